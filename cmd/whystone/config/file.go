package config

import (
	"bytes"
	"os"
	"path/filepath"

	"github.com/spf13/viper"

	"whystone/cmd/whystone/intake"
	"whystone/kb/diag"
	"whystone/kb/syntax"
)

// readFile has viper read the settings file, if there is one.
func (l *loader) readFile(env Env) {
	path, must := filePath(l.flags, env)
	if path == "" {
		return
	}
	text, err := intake.ReadFile(path, syntax.MaxBytes)
	if os.IsNotExist(err) && !must {
		return
	}
	l.path = path
	l.viper.SetConfigType("yaml") // whatever the file is called
	if len(text) > syntax.MaxBytes {
		l.found.Errorf("too-long", diag.Span{}, "the settings file %s is longer than the %d MiB that are read", path,
			syntax.MaxBytes>>20)
		return
	}
	if err == nil {
		err = l.viper.ReadConfig(bytes.NewReader(text))
	}
	if err != nil {
		l.found.Errorf(diag.FileUnreadable, diag.Span{}, "the settings file can't be read: %s", err)
	}
}

// Decoder makes the loader viper's only reader of files.
func (l *loader) Decoder(string) (viper.Decoder, error) { return l, nil }

// Decode reads a settings file for viper: a YAML mapping of keys. viper's own reader keeps no places, folds keys, and
// takes what is given twice.
func (l *loader) Decode(text []byte, values map[string]any) error {
	docs := syntax.ParseYAML(diag.NewSource(l.path, text), l.found)
	if len(docs) == 0 || docs[0].IsNull() {
		return nil
	}
	if len(docs) > 1 {
		l.found.Errorf(diag.NotAllowed, docs[1].Span, "a settings file is one document, and this is a second")
	}
	docs[0].Keys(l.found, names()...)
	for _, e := range docs[0].Entries {
		k, known := lookup(e.Key.Text)
		if !known || e.Value.IsNull() {
			continue
		}
		if v, ok := k.read(e.Value, filepath.Dir(l.path), l.found); ok && k.check(k.Name, v, e.Value.Span, l.found) {
			values[k.Name] = v
		}
	}
	return nil
}

// read reads a value of a file. Folders are relative to the file.
func (k Key) read(n *syntax.Node, dir string, out *diag.List) (any, bool) {
	switch k.kind {
	case truth:
		return n.Bool(out)
	case number:
		return n.Int(out)
	case list:
		return folders(n, dir, out)
	case folder:
		text, ok := n.Str(out)
		if ok && !filepath.IsAbs(text) {
			text = filepath.Join(dir, text)
		}
		return text, ok
	default:
		return n.Str(out)
	}
}

func folders(n *syntax.Node, dir string, out *diag.List) ([]string, bool) {
	items, ok := n.ListOrOne(out)
	var list []string
	for _, it := range items {
		text, good := it.Str(out)
		switch {
		case good && text == "":
			out.Errorf(diag.BadText, it.Span, "a layer is the name of a folder, and this is empty")
		case good && !filepath.IsAbs(text):
			text = filepath.Join(dir, text)
		}
		list, ok = append(list, text), ok && good && text != ""
	}
	return list, ok
}
