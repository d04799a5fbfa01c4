package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle"
	"dropwright/bundle/bom"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
)

func (a *app) sheetCmd() *cobra.Command {
	var o sheetOptions
	cmd := &cobra.Command{
		Use:   "sheet DESIGN|WEEK",
		Short: "render the assembly sheet",
		Long: `Renders the assembly sheet of one design, one file for each variant: what to print, what to order,
tools, cautions, steps, wiring. HTML files need nothing beside them and print well on A4 and Letter;
PDF files hold a page with every screw at true size; shots is the list of pictures still to take.`,
		Example:           "  dropwright sheet vent-minder\n  dropwright sheet vent-minder --variant ce --output sheets\n  dropwright sheet vent-minder --format pdf --paper letter --builds 5\n  dropwright sheet soil-stake --format text --output -",
		ValidArgsFunction: a.completeDesigns,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.sheet(args, o) },
	}
	a.formatFlag(cmd, "html", "pdf", "text", "shots")
	a.variantFlag(cmd)
	a.outputFlag(cmd, "folder to write to (default: sheets in the series' outbox); - prints")
	cmd.Flags().StringVar(&o.audience, "for", "public", "for this audience: early, public")
	cmd.Flags().IntVar(&o.builds, "builds", 1, "for how many builds its lists are: what to print, order and pack")
	cmd.Flags().StringVar(&o.paper, "paper", "a4", "paper of a PDF: a4, letter")
	_ = cmd.RegisterFlagCompletionFunc("paper", cobra.FixedCompletions([]string{"a4", "letter"}, cobra.ShellCompDirectiveNoFileComp))
	_ = cmd.RegisterFlagCompletionFunc("for", cobra.FixedCompletions([]string{"early", "public"}, cobra.ShellCompDirectiveNoFileComp))
	return cmd
}

type sheetOptions struct {
	audience, paper string
	builds          int
}

func (a *app) sheet(words []string, o sheetOptions) error {
	audience := o.audience
	if audience != "early" && audience != "public" {
		return usage("write --for early or --for public", "--for: expected early or public, found %q", audience)
	}
	if o.paper != "a4" && o.paper != "letter" {
		return usage("write --paper a4 or --paper letter", "--paper: expected a4 or letter, found %q", o.paper)
	}
	if o.builds < 1 || o.builds > bom.MaxBuilds {
		return usage(fmt.Sprintf("write a number from 1 to %d", bom.MaxBuilds), "--builds: expected 1 or more, found %d", o.builds)
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
	_, w, err := a.sane(s, name, a.sheetTopics(s, name))
	if err != nil {
		return err
	}
	if a.format != "shots" {
		a.since(s, w)
	}
	w.Builds = o.builds
	variants, err := a.variants(w.Design)
	if err != nil {
		return err
	}
	switch {
	case a.output == "-" && a.format == "pdf" && isTerminal(a.stdout):
		return usage("send it to a file: --output sheets", "a PDF is nothing for a terminal")
	case a.output == "-" && a.format != "text" && a.format != "shots" && len(variants) > 1:
		return usage("name one with --variant "+strings.Join(variants, ", "), "one file can hold one sheet, and %s has %d variants", name, len(variants))
	}
	if n := finding.Count(w.Checked.Findings, finding.Error); n > 0 {
		a.ui.say("note: check finds %s in this design; `dropwright check %s` shows them", plural(n, "error"), name)
	}
	dir := a.output
	if dir == "" {
		dir = filepath.Join(s.dir, "outbox", "sheets")
	}
	if a.format == "shots" {
		variants = variants[:1] // one list for all
	}
	for _, v := range variants {
		data, err := a.renderSheet(w, v, o)
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
		ext := map[string]string{"html": ".html", "pdf": ".pdf", "text": ".txt", "shots": ".shots.html"}[a.format]
		if a.format == "shots" {
			v = design.Plain
		}
		if err := a.writeFile(filepath.Join(dir, bundle.BundleName(w.Design, v, design.Audience(audience))+ext), data); err != nil {
			return err
		}
	}
	return nil
}

func (a *app) renderSheet(w *bundle.Work, variant string, o sheetOptions) ([]byte, error) {
	var out bytes.Buffer
	var err error
	audience := design.Audience(o.audience)
	s := w.Illustrated(variant, audience, boardTitle)
	images := w.Images()
	switch a.format {
	case "text":
		err = w.Sheet(variant, audience, boardTitle).Text(&out)
	case "pdf":
		if g := s.MissingGlyphs(); len(g) > 0 {
			a.ui.say("note: the PDF's font has no sign for %q; a ? stands in its place, and the last page lists them", string(g))
		}
		err = s.PDF(&out, images, o.paper)
	case "shots":
		shots := w.Shots(variant, audience)
		if len(shots.Sections) == 0 {
			a.ui.say("%s: no picture is missing", w.Design.Folder)
		}
		err = shots.HTML(&out, images)
	default:
		err = s.HTML(&out, images)
	}
	if err != nil {
		return nil, machine("`dropwright check` says which files are wrong", "rendering the sheet of %s: %w", w.Design.Folder, err)
	}
	return out.Bytes(), nil
}
