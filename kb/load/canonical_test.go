package load

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/gowebpki/jcs"
	"pgregory.net/rapid"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/syntax"
)

// plain is a document tree as data, with nothing that canonical JSON is about.
func plain(n *syntax.Node) any {
	switch {
	case n.IsNull():
		return nil
	case n.Kind == syntax.Map:
		out := map[string]any{}
		for _, e := range n.Entries {
			out[e.Key.Text] = plain(e.Value)
		}
		return out
	case n.Kind == syntax.List:
		out := []any{}
		for _, it := range n.Items {
			out = append(out, plain(it))
		}
		return out
	}
	if n.Style == syntax.Plain || n.Style == syntax.JSONWord || n.Style == syntax.JSONNumber {
		if n.Text == "true" || n.Text == "false" {
			return n.Text == "true"
		}
		if x, err := strconv.ParseFloat(n.Text, 64); err == nil && x-x == 0 {
			return x
		}
	}
	return n.Text
}

// libraryDigest is the digest of what is left after layering, made canonical by github.com/gowebpki/jcs, which
// implements RFC 8785, of what encoding/json writes.
func libraryDigest(t interface{ Fatal(...any) }, st *stacked) string {
	content := map[string]any{"format": 1, "method": kb.ArithmeticVersion, "policy": plain(st.policy.node)}
	for _, k := range kinds {
		list, away := []any{}, []any{}
		for _, s := range st.ordered(k.kind) {
			list = append(list, plain(s.Node))
			if s.away != nil {
				away = append(away, plain(s.away.Node))
			}
		}
		if k.kind != kb.TableSheet && (k.kind != kb.DefineSheet || len(list) > 0) {
			content[k.top] = list
		}
		if len(away) > 0 {
			content["retires"] = away
		}
	}
	raw, err := json.Marshal(content)
	if err != nil {
		t.Fatal(err)
	}
	canonical, err := jcs.Transform(raw)
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(canonical)
	return "sha256:" + hex.EncodeToString(sum[:])
}

// TestDigestAsTheLibraryHasIt: the digests of the shipped rulesets, of a house's layer that takes rules away for a time
// too, are those of the library.
func TestDigestAsTheLibraryHasIt(t *testing.T) {
	var layers []Layer
	for _, name := range []string{"diamond-desk", "gem-desk", "house-example"} {
		layers = append(layers, Layer{Name: name, FS: os.DirFS("../../rulesets/" + name)})
	}
	text := []byte("format: 1\ndefinitions: [{define: dense, takes: [], means: specific_gravity > 3.9}]\n" +
		"retires: [{rule: join-plane-assembled, because: \"<we> & \\u2028 \\U0001F48E\", since: \"2031-01-01\"}]\n")
	for _, stacks := range [][]Layer{layers[:1], layers[:2], layers} {
		var out diag.List
		files := ReadFiles(t.Context(), stacks, &out)
		for _, over := range [][]kb.File{nil, {{Layer: "house", Source: diag.NewSource("house.yaml", text)}}} {
			st := stack(append(files, over...), func(*sheet) {}, &out)
			if got, err := st.digest(); err != nil || got != libraryDigest(t, st) {
				t.Errorf("%d layers: %s, %v, and by the library %s", len(stacks), got, err, libraryDigest(t, st))
			}
		}
		if len(out) > 0 {
			t.Error(out)
		}
	}
}

// TestDigestOfAnything: whatever texts, keys and numbers there are, however they are written, the digest is that of the
// library: with characters that RFC 8785 escapes or that are two units of UTF-16 too.
func TestDigestOfAnything(t *testing.T) {
	text := rapid.OneOf(rapid.String(),
		rapid.StringMatching("[a-c\\x00-\\x1f\"\\\\/<>&\x7f\uE000\uFFFD\u2028\u00E9]{0,6}"),
		rapid.StringMatching("[a\uE000\uFFFF\U00010000\U0001F48E]{1,3}"))
	bare := rapid.OneOf(text, rapid.SampledFrom([]string{"true", "false", "null", "~", "", "-0", "-0.0", "1e21", "1e-7",
		"123456789012345678901234567890", "5e-324", "1.7976931348623157e308", "1e400", "-1e400", "0x1p-3", "1_000",
		".5", "5.", "+7", "nan", "-inf", "True"}), rapid.Map(rapid.Float64(), func(x float64) string {
		return strconv.FormatFloat(x, 'g', -1, 64)
	}))
	var tree func(depth int) *rapid.Generator[*syntax.Node]
	tree = func(depth int) *rapid.Generator[*syntax.Node] {
		return rapid.Custom(func(t *rapid.T) *syntax.Node {
			kind := syntax.Scalar
			if depth > 0 {
				kind = rapid.SampledFrom([]syntax.Kind{syntax.Map, syntax.List, syntax.Scalar}).Draw(t, "kind")
			}
			switch kind {
			case syntax.Map:
				n := syntax.NewMap()
				for _, key := range rapid.SliceOfNDistinct(text, 0, 5, rapid.ID).Draw(t, "keys") {
					n.Entries = append(n.Entries, syntax.Keyed(key, tree(depth-1).Draw(t, "value")))
				}
				return n
			case syntax.List:
				return syntax.NewList(rapid.SliceOfN(tree(depth-1), 0, 3).Draw(t, "items")...)
			}
			style := rapid.SampledFrom([]syntax.Style{syntax.Plain, syntax.Single, syntax.Double, syntax.Literal,
				syntax.Folded, syntax.JSONString, syntax.JSONNumber, syntax.JSONWord, syntax.Field}).Draw(t, "style")
			return &syntax.Node{Kind: kind, Style: style, Text: bare.Draw(t, "text")}
		})
	}
	rapid.Check(t, func(t *rapid.T) {
		st := &stacked{policy: &policyNode{node: tree(4).Draw(t, "policy")}}
		if got, err := st.digest(); err != nil || got != libraryDigest(t, st) {
			t.Fatalf("%s, %v, and by the library %s: %s", got, err, libraryDigest(t, st), strings.Join(st.said(), ""))
		}
	})
}
