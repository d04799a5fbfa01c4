package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"dropwright/bundle"
	"dropwright/bundle/manifest"
	"dropwright/series/config"
)

func (a *app) schemaCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "schema design|series|bundle",
		Short: "print the JSON Schema of a manifest, for editors, or of bundle.json",
		Long: `Prints the JSON Schema (draft 2020-12) of design.yaml, of series.yaml, or of the bundle.json that lies in
every bundle. Editors that know the schema of a manifest complete keys and mark mistakes while you type. ` + "`init`" + ` puts both files into the series' folder, where the
first line of each manifest points at them.`,
		Example:   "  dropwright schema design --output design.schema.json",
		ValidArgs: []string{"design", "series", "bundle"},
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usage("write `dropwright schema design`, `dropwright schema series` or `dropwright schema bundle`", "which schema: design, series or bundle?")
			}
			data, ok := schemas()[args[0]]
			if !ok {
				return usage("write design, series or bundle", "there is no schema of %q", args[0])
			}
			if a.output != "" {
				return a.writeFile(a.output, data)
			}
			if _, err := a.stdout.Write(data); err != nil {
				return machine("", "writing the schema: %w", err)
			}
			return nil
		},
	}
	a.outputFlag(cmd, "write to this file")
	return cmd
}

// schemas are the schemas by the name of what they describe.
func schemas() map[string][]byte {
	return map[string][]byte{"design": manifest.Schema(), "series": config.Schema(), "bundle": bundle.CardSchema()}
}

// schemaFile is the name under which a series keeps a schema.
func schemaFile(of string) string { return fmt.Sprintf("%s.schema.json", of) }
