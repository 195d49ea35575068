package syntax

import "whystone/kb/diag"

// Piece is a part of a text that was put together: what it adds, and where that was written. Where the source says just
// that, places within it are exact; else all of it has the place of the whole piece. A piece without a place is what
// joins others.
type Piece struct {
	Text string
	Span diag.Span
}

// Pieced returns a scalar whose text is that of the pieces, one after the other. Its [Node.At] leads to where they were
// written. span is the place of all of it.
func Pieced(style Style, span diag.Span, pieces ...Piece) *Node {
	n := &Node{Kind: Scalar, Style: style, Span: span, pieces: pieces}
	for _, p := range pieces {
		n.Text += p.Text
	}
	return n
}

// Part returns bytes start to end of a scalar's text as a scalar of its own.
func (n *Node) Part(style Style, start, end int) *Node {
	sp := n.At(start, end)
	if n.pieces == nil {
		return Pieced(style, sp, Piece{n.Text[start:end], sp})
	}
	var pieces []Piece
	from := 0
	for _, p := range n.pieces {
		if a, b := max(start-from, 0), min(end-from, len(p.Text)); a < b {
			pieces = append(pieces, Piece{p.Text[a:b], p.at(a, b)})
		}
		from += len(p.Text)
	}
	return Pieced(style, sp, pieces...)
}

// Unread stands for a value that was reported as bad: readers are silent about it.
func Unread(span diag.Span) *Node { return &Node{Kind: Scalar, Style: Double, Span: span, bad: true} }

// atPieces returns the least place that holds all that the bytes start to end were written as.
func (n *Node) atPieces(start, end int) diag.Span {
	start = min(max(start, 0), len(n.Text))
	end = min(max(end, start), len(n.Text))
	empty := start == end
	if empty { // it stands before the byte that follows, or behind the last one
		start = min(start, max(len(n.Text)-1, 0))
		end = start + 1
	}
	var out diag.Span
	from := 0
	for _, p := range n.pieces {
		to := from + len(p.Text)
		if from < end && to > start && !p.Span.IsZero() {
			out = join(out, p.at(max(start-from, 0), min(end, to)-from))
		}
		from = to
	}
	switch {
	case out.IsZero():
		return n.Span
	case empty:
		out.End = out.Start
	}
	return out
}

// at is the place of some bytes of the piece.
func (p Piece) at(start, end int) diag.Span {
	if p.Span.IsZero() || p.Span.Text() != p.Text {
		return p.Span
	}
	return diag.Span{Source: p.Span.Source, Start: p.Span.Start + start, End: p.Span.Start + end}
}

// join is the least span over two of one source; of two sources, the first.
func join(a, b diag.Span) diag.Span {
	if a.IsZero() {
		return b
	}
	if a.Source == b.Source {
		a.Start, a.End = min(a.Start, b.Start), max(a.End, b.End)
	}
	return a
}
