package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"dropwright/bundle"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/measure"
)

func (a *app) sheetCmd() *cobra.Command {
	var audience string
	cmd := &cobra.Command{
		Use:   "sheet DESIGN|WEEK",
		Short: "render the assembly sheet",
		Long: `Renders the assembly sheet of one design, one file for each variant: what to print, what to order,
tools, cautions, steps, wiring. HTML files need nothing beside them and print well on A4 and Letter.`,
		Example:           "  dropwright sheet vent-minder\n  dropwright sheet vent-minder --variant ce --output sheets\n  dropwright sheet soil-stake --format text",
		ValidArgsFunction: a.completeDesigns,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.sheet(args, audience) },
	}
	a.formatFlag(cmd, "html", "text")
	a.variantFlag(cmd)
	a.outputFlag(cmd, "folder to write to (default: sheets in the series' outbox); - prints")
	cmd.Flags().StringVar(&audience, "for", "public", "for this audience: early, public")
	_ = cmd.RegisterFlagCompletionFunc("for", cobra.FixedCompletions([]string{"early", "public"}, cobra.ShellCompDirectiveNoFileComp))
	return cmd
}

func (a *app) sheet(words []string, audience string) error {
	if audience != "early" && audience != "public" {
		return usage("write --for early or --for public", "--for: expected early or public, found %q", audience)
	}
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	s.goesOut = true
	name, err := a.oneDesign(s, words)
	if err != nil {
		return err
	}
	_, w, err := a.sane(s, name, measure.Topics{Estimate: true})
	if err != nil {
		return err
	}
	variants, err := a.variants(w.Design)
	if err != nil {
		return err
	}
	if n := finding.Count(w.Checked.Findings, finding.Error); n > 0 {
		a.ui.say("note: check finds %s in this design; `dropwright check %s` shows them", plural(n, "error"), name)
	}
	dir := a.output
	if dir == "" {
		dir = filepath.Join(s.dir, "outbox", "sheets")
	}
	for _, v := range variants {
		data, err := a.renderSheet(w, v, design.Audience(audience))
		if err != nil {
			return err
		}
		if a.output == "-" {
			if _, err := a.stdout.Write(data); err != nil {
				return machine("", "writing the sheet: %w", err)
			}
			continue
		}
		if err := os.MkdirAll(a.abs(dir), 0o777); err != nil {
			return machine("choose a folder you may write to with --output", "making %s: %w", dir, err)
		}
		ext := map[string]string{"html": ".html", "text": ".txt"}[a.format]
		if err := a.writeFile(filepath.Join(dir, bundle.BundleName(w.Design, v, design.Audience(audience))+ext), data); err != nil {
			return err
		}
	}
	return nil
}

func (a *app) renderSheet(w *bundle.Work, variant string, audience design.Audience) ([]byte, error) {
	var out bytes.Buffer
	var err error
	switch a.format {
	case "text":
		err = w.Sheet(variant, audience, boardTitle).Text(&out)
	default:
		err = w.SheetHTML(&out, variant, audience, boardTitle)
	}
	if err != nil {
		return nil, machine("`dropwright check` says which files are wrong", "rendering the sheet of %s: %w", fmt.Sprint(w.Design.Folder), err)
	}
	return out.Bytes(), nil
}
