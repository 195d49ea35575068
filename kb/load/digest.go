package load

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"strconv"

	"github.com/gowebpki/jcs"

	"whystone/kb"
	"whystone/kb/doc"
)

// digest names the ruleset: SHA-256 over the canonical JSON (RFC 8785) of what is left after layering, each list sorted
// by id. Texts and sources are part of it; comments, positions, file names and the order of files are not.
func (st *stacked) digest() (string, error) {
	content := map[string]any{"format": 1, "method": kb.ArithmeticVersion, "policy": plain(st.policy.node)}
	for _, k := range kinds {
		if k.kind == "table" {
			continue // its rows are among the rules
		}
		list := []json.RawMessage{}
		for _, s := range st.ordered(k.kind) {
			list = append(list, json.RawMessage(s.written()))
		}
		content[k.top] = list
	}
	raw, err := json.Marshal(content)
	if err != nil {
		return "", err
	}
	canonical, err := jcs.Transform(raw)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(canonical)
	return "sha256:" + hex.EncodeToString(sum[:]), nil
}

// written is a document tree as JSON with sorted keys.
func written(n *doc.Node) string {
	text, _ := json.Marshal(plain(n)) // texts, numbers and truths only
	return string(text)
}

// plain is a document tree without places: what the text says, however it is written.
func plain(n *doc.Node) any {
	if n.IsNull() {
		return nil
	}
	switch n.Kind {
	case doc.Map:
		out := map[string]any{}
		for _, e := range n.Entries {
			out[e.Key.Text] = plain(e.Value)
		}
		return out
	case doc.List:
		out := []any{}
		for _, it := range n.Items {
			out = append(out, plain(it))
		}
		return out
	}
	if n.Style == doc.Plain || n.Style == doc.JSONWord || n.Style == doc.JSONNumber {
		switch n.Text {
		case "true":
			return true
		case "false":
			return false
		}
		if x, err := strconv.ParseFloat(n.Text, 64); err == nil && x-x == 0 {
			return x
		}
	}
	return n.Text
}
