package diag

import (
	"strings"
	"sync"
	"testing"
	"unicode/utf16"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func TestPosition(t *testing.T) {
	const wide = "é日𝛼x" // 2, 3 and 4 bytes; the last needs two UTF-16 units
	tests := []struct {
		name, text string
		offset     int
		want       Position
	}{
		{"empty text", "", 0, Position{1, 1, 1, 1}},
		{"before the text", "ab", -5, Position{1, 1, 1, 1}},
		{"after the text", "ab", 99, Position{1, 3, 3, 3}},
		{"second line", "a\nbc", 3, Position{2, 2, 2, 2}},
		{"line end belongs to its line", "a\nb", 1, Position{1, 2, 2, 2}},
		{"after the last line end", "a\n", 2, Position{2, 1, 1, 1}},
		{"CRLF", "a\r\nb", 3, Position{2, 1, 1, 1}},
		{"inside CRLF", "a\r\nb", 2, Position{1, 2, 2, 2}},
		{"lone CR", "a\rb", 2, Position{2, 1, 1, 1}},
		{"wide runes", wide, 9, Position{1, 4, 10, 5}},
		{"inside a rune", wide, 3, Position{1, 2, 3, 2}},
		{"invalid UTF-8 counts byte by byte", "\xff\xfex", 2, Position{1, 3, 3, 3}},
		{"cut-off rune", "\xe6\x97", 2, Position{1, 3, 3, 3}},
		{"after a byte order mark", "\uFEFFab", 4, Position{1, 2, 2, 2}},
		{"inside a byte order mark", "\uFEFFab", 1, Position{1, 1, 1, 1}},
		{"byte order mark on the second line", "\uFEFF\n\uFEFFx", 7, Position{2, 2, 4, 2}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := NewSource("x", []byte(tt.text)).Position(tt.offset); got != tt.want {
				t.Errorf("Position(%d) of %q = %+v, want %+v", tt.offset, tt.text, got, tt.want)
			}
		})
	}
}

func TestOffsetOutsideTheText(t *testing.T) {
	s := NewSource("x", []byte("ab\r\ncde\nf"))
	for _, tt := range []struct{ line, column, want int }{
		{0, 0, 0}, {1, 3, 2}, {1, 99, 2}, {2, 4, 7}, {2, 5, 7}, {3, 2, 9}, {4, 1, 9}, {99, 1, 9}, {-1, -1, 0},
	} {
		if got := s.Offset(tt.line, tt.column); got != tt.want {
			t.Errorf("Offset(%d, %d) = %d, want %d", tt.line, tt.column, got, tt.want)
		}
	}
}

func TestLine(t *testing.T) {
	s := NewSource("x", []byte("\uFEFFone\r\n\ntwo\rthree"))
	want := []string{"", "one", "", "two", "three", ""}
	for n, line := range want {
		if got := s.Line(n); got != line {
			t.Errorf("Line(%d) = %q, want %q", n, got, line)
		}
	}
	if s.Lines() != 4 {
		t.Errorf("Lines() = %d, want 4", s.Lines())
	}
}

// texts draws texts of everything that makes positions hard, some of them longer than a block of the index.
func texts() *rapid.Generator[string] {
	piece := rapid.SampledFrom([]string{"a", "bc", " ", "\t", "\n", "\r\n", "\r", "é", "日本", "𝛼", "\xff", "\xe6\x97",
		"\uFEFF", "e\u0301", "\u2028", strings.Repeat("wide 日 ", 90)})
	return rapid.Custom(func(t *rapid.T) string {
		return strings.Join(rapid.SliceOfN(piece, 0, 30).Draw(t, "pieces"), "")
	})
}

// The reference counts from the start of the text each time, with the standard library's decoder and UTF-16 encoder.
func slowPosition(text string, offset int) Position {
	start, line := 0, 1
	if strings.HasPrefix(text, bom) {
		start = len(bom)
	}
	for i := start; i < offset; i++ {
		if text[i] == '\n' || text[i] == '\r' && (i+1 == len(text) || text[i+1] != '\n') {
			start, line = i+1, line+1
		}
	}
	runes := []rune(text[start:offset])
	return Position{line, len(runes) + 1, offset - start + 1, len(utf16.Encode(runes)) + 1}
}

func TestPositionAgreesWithCountingFromTheStart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := texts().Draw(t, "text")
		s := NewSource("x", []byte(text))
		for i := 0; i <= len(text); {
			if i > 0 || !strings.HasPrefix(text, bom) {
				insideCRLF := i > 0 && i < len(text) && text[i-1] == '\r' && text[i] == '\n'
				if got, want := s.Position(i), slowPosition(text, i); !insideCRLF && got != want {
					t.Fatalf("Position(%d) of %q = %+v, want %+v", i, text, got, want)
				}
			}
			_, size := utf8.DecodeRuneInString(text[i:])
			i += max(size, 1)
		}
	})
}

func TestOffsetUndoesPosition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := texts().Draw(t, "text")
		s := NewSource("x", []byte(text))
		offset := rapid.IntRange(-2, len(text)+2).Draw(t, "offset")
		p := s.Position(offset)
		back := s.Offset(p.Line, p.Column)
		if back < 0 || back > len(text) || p.Line < 1 || p.Line > s.Lines() {
			t.Fatalf("offset %d of %q: position %+v, back at %d", offset, text, p, back)
		}
		if again := s.Position(back); again != p {
			t.Fatalf("offset %d of %q: %+v leads to %d, which is at %+v", offset, text, p, back, again)
		}
		if p.ByteColumn-1 > len(s.Line(p.Line)) {
			t.Fatalf("byte column %d lies beyond the line %q", p.ByteColumn, s.Line(p.Line))
		}
		if back > max(offset, 0) && !strings.HasPrefix(text, bom) {
			t.Fatalf("offset %d of %q moved forward to %d", offset, text, back)
		}
	})
}

func TestSourceIsSafeForConcurrentUse(t *testing.T) {
	s := NewSource("x", []byte(strings.Repeat("日本\n", 2000)))
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			if p := s.Position(7*1000 + 3); p.Line != 1001 || p.Column != 2 {
				t.Errorf("got %+v", p)
			}
		})
	}
	wg.Wait()
}

func TestSpan(t *testing.T) {
	s := NewSource("a.yaml", []byte("x\nyé z"))
	sp := Span{s, 3, 5}
	if got := sp.String(); got != "a.yaml:2:2" {
		t.Errorf("String() = %q", got)
	}
	if got := sp.Text(); got != "é" {
		t.Errorf("Text() = %q", got)
	}
	if got := (Span{s, -3, 99}).Text(); got != string(s.Text) {
		t.Errorf("Text() of a span wider than the source = %q", got)
	}
	if got := (Span{s, 5, 2}).Text(); got != "" {
		t.Errorf("Text() of a reversed span = %q", got)
	}
	var none Span
	if !none.IsZero() || none.String() != "" || none.Text() != "" || none.Position() != (Position{}) {
		t.Error("the zero span must point nowhere")
	}
}
