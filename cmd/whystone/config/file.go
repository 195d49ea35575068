package config

import (
	"path/filepath"

	"whystone/kb/diag"
	"whystone/kb/doc"
)

// readFile reads a settings file: a YAML mapping of keys. It returns the path when there is such a file.
func readFile(path string, must bool, out *diag.List) (values map[string]any, read string) {
	values = map[string]any{}
	text, ok := open(path, must, out)
	if !ok {
		return values, ""
	}
	docs := doc.ParseYAML(diag.NewSource(path, text), out)
	if len(docs) == 0 || docs[0].IsNull() {
		return values, path
	}
	if len(docs) > 1 {
		out.Errorf("not-allowed", docs[1].Span, "a settings file is one document, and this is a second")
	}
	root := docs[0]
	root.Keys(out, names()...)
	for _, e := range root.Entries {
		k, known := lookup(e.Key.Text)
		if !known || e.Value.IsNull() {
			continue
		}
		if v, ok := k.read(e.Value, filepath.Dir(path), out); ok {
			values[k.Name] = v
		}
	}
	return values, path
}

// read reads a value of a file. Folders are relative to the file.
func (k Key) read(n *doc.Node, dir string, out *diag.List) (any, bool) {
	switch k.kind {
	case truth:
		return n.Bool(out)
	case number:
		v, ok := n.Int(out)
		return v, ok && k.within(k.Name, v, n.Span, out)
	case list:
		return folders(n, dir, out)
	default:
		text, ok := n.Str(out)
		return text, ok && k.oneOf(k.Name, text, n.Span, out)
	}
}

func folders(n *doc.Node, dir string, out *diag.List) (any, bool) {
	items, ok := n.ListOrOne(out)
	list := []string{}
	for _, it := range items {
		text, good := it.Str(out)
		if good && text == "" {
			out.Errorf("bad-text", it.Span, "a layer is the name of a folder, and this is empty")
		}
		if !good || text == "" {
			ok = false
			continue
		}
		if !filepath.IsAbs(text) {
			text = filepath.Join(dir, text)
		}
		list = append(list, text)
	}
	return list, ok
}
