package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/starter"
	"whystone/kb"
)

func (a *app) new() *cobra.Command {
	return &cobra.Command{
		Use:   "new KIND ID",
		Short: "Begin a case, rule, table, material, test or layer",
		Long: `New writes a file to begin with to standard output, with comments that say what
stands where: a case, rule, table, material or test with the ID that you give.
It loads as it is. A new layer is a folder, with a file for the house's policy
in it; lay it above the shipped rules with --layer.`,
		Example: `  whystone new layer house
  whystone new rule dark-and-dense > house/dark-and-dense.yaml
  whystone new case A-1 > a-1.yaml`,
		ValidArgs: append(slices.Clone(starter.Kinds), "layer"),
		RunE: a.does(func(s *session, cmd *cobra.Command, args []string) error {
			kinds := append(slices.Clone(starter.Kinds), "layer")
			switch {
			case len(args) != 2:
				return usageError("%s needs a kind and an id: new rule dark-and-dense", cmd.CommandPath())
			case !slices.Contains(kinds, args[0]):
				return usageError("there is no kind %q of file to begin; there are a case, rule, table, material, "+
					"test and layer", args[0]).near(args[0], kinds)
			case args[0] == "layer":
				return a.newLayer(args[1])
			case !starter.Named(args[0], args[1]):
				return usageError("%q is no id: an id has words of a-z and 0-9, with hyphens between them", args[1])
			}
			rs, err := s.ruleset(cmd.Context())
			if err != nil {
				return err
			}
			if taken(rs, args[0], args[1]) {
				return usageError("there is a %s already: give the new one an id of its own, and say replaces: %s "+
					"and because: if it is to stand in its place", what(args[0], args[1]), args[1])
			}
			text, _ := starter.File(args[0], args[1]) // the kind is known
			_, err = io.WriteString(s.stdout, text)
			return err
		}),
	}
}

// taken tells whether the ruleset has a sheet of this kind and id.
func taken(rs *kb.Ruleset, kind, id string) bool {
	return slices.ContainsFunc(rs.Sheets, func(s kb.Sheet) bool {
		group := kind == string(kb.MaterialSheet) && s.Kind == kb.GroupSheet
		return s.ID == id && (string(s.Kind) == kind || group)
	})
}

// newLayer makes a folder for the files of a house.
func (a *app) newLayer(folder string) error {
	name := filepath.Base(filepath.Clean(folder))
	if !starter.Named(starter.House, name) {
		return usageError("%q can't be the name of a layer: words of a-z and 0-9, with hyphens between them", name)
	}
	if err := os.Mkdir(folder, 0o777); err != nil {
		if errors.Is(err, os.ErrExist) {
			return usageError("%s is there already: a new layer is a new folder", folder)
		}
		return err
	}
	text, _ := starter.File(starter.House, name) // it is a known kind
	path := filepath.Join(folder, "house.yaml")
	if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
		return err
	}
	_, err := fmt.Fprintf(a.stdout, "%s is there. Lay it above the shipped rules: --layer %s\n", path, folder)
	return err
}

// what names a sheet of a kind as a person is told of it.
func what(kind, id string) string {
	if kind == string(kb.MaterialSheet) {
		kind = "material or group"
	}
	return fmt.Sprintf("%s %q", kind, id)
}
