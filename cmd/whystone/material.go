package main

import (
	"slices"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/catalog"
	"whystone/cmd/whystone/terminal"
	"whystone/kb"
	"whystone/kb/english"
)

func (a *app) material() *cobra.Command {
	cmd := lookup[*kb.Material]{
		use:   "material [ID]",
		short: "Look up a material, or compare two",
		long: `Material shows what the ruleset knows of a material or group, with the source of
every figure and where it stands; without an ID, the tree of all. Any name of
the trade will do for an ID. With --beside, two materials side by side, and what
tells them apart; with --case too, what separates them on that stone with the
house's instruments, by how much, and which weight makes it impossible.`,
		example: `  whystone material synthetic-moissanite
  whystone material "cubic zirconia" --beside diamond
  whystone material diamond --beside moissanite --case stone.yaml`,
		list:   (*terminal.Printer).Materials,
		show:   (*terminal.Printer).Material,
		all:    materials,
		find:   catalog.FindMaterial,
		object: func(rs *kb.Ruleset, m *kb.Material) any { return catalog.OfMaterial(rs, m) },
		id:     func(m *kb.Material) (string, string) { return m.ID, m.Name },
	}.command(a)
	cmd.ValidArgsFunction = a.completing(materialWords) // groups too
	beside := cmd.Flags().String("beside", "", "another `material` to compare with")
	_ = cmd.RegisterFlagCompletionFunc("beside", func(cmd *cobra.Command, _ []string, to string) ([]cobra.Completion,
		cobra.ShellCompDirective) {
		return a.completing(materialWords)(cmd, nil, to)
	}) // fails only for a flag that is not there, or twice
	file := cmd.Flags().String("case", "", "with --beside: on the stone of this case `file`")
	alone := cmd.RunE
	cmd.RunE = a.does(func(s *session, cmd *cobra.Command, args []string) error {
		if !cmd.Flags().Changed("beside") {
			if *file != "" {
				return usageError("--case goes with --beside: whystone material ID --beside ID --case FILE")
			}
			return alone(cmd, args)
		}
		if len(args) == 0 {
			return usageError("--beside compares with a material: whystone material ID --beside ID")
		}
		if *file != "" {
			return s.separate(cmd.Context(), args[0], *beside, *file)
		}
		return s.beside(cmd, args[0], *beside)
	})
	return cmd
}

// materials are the leaves that sheets are of.
func materials(rs *kb.Ruleset) []*kb.Material {
	return slices.DeleteFunc(slices.Clone(rs.Leaves), func(m *kb.Material) bool { return m.Other })
}

// materialWords are the ids of materials and of groups.
func materialWords(rs *kb.Ruleset) []cobra.Completion {
	return english.Each(rs.Nodes, func(m *kb.Material) cobra.Completion {
		return cobra.CompletionWithDesc(m.ID, m.Name)
	})
}

// beside compares two materials.
func (s *session) beside(cmd *cobra.Command, first, second string) error {
	rs, err := s.ruleset(cmd.Context())
	if err != nil {
		return err
	}
	a, b, err := twoMaterials(rs, first, second)
	if err != nil {
		return err
	}
	return s.tell(terminal.Compare(rs, a, b), func() { s.out.Beside(rs, a, b) })
}

// twoMaterials finds what is to be compared.
func twoMaterials(rs *kb.Ruleset, first, second string) (a, b *kb.Material, err error) {
	if a, err = catalog.FindMaterial(rs, first); err != nil {
		return nil, nil, err
	}
	b, err = catalog.FindMaterial(rs, second)
	return a, b, err
}
