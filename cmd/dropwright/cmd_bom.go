package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle"
	"dropwright/bundle/archive"
	"dropwright/bundle/board"
	"dropwright/bundle/bom"
	"dropwright/bundle/finding"
	"dropwright/bundle/measure"
	"dropwright/bundle/unit"
	"dropwright/series/catalogue"
)

func (a *app) bomCmd() *cobra.Command {
	var builds int
	cmd := &cobra.Command{
		Use:   "bom DESIGN|WEEK",
		Short: "print the bill of materials",
		Long: `Works out what to print, order and have at hand for one design: parts by colour, filament,
fasteners by standard designation with the joints that use them, bought parts, per variant and for
any number of builds, and where there are several variants, side by side with a mark at what differs. What
is not known is left out and named, never counted as nothing.`,
		Example:           "  dropwright bom vent-minder\n  dropwright bom vent-minder --builds 10 --format xlsx --output order.xlsx",
		ValidArgsFunction: a.completeDesigns,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.bom(args, builds) },
	}
	a.formatFlag(cmd, "text", "json", "csv", "xlsx", "md", "html")
	a.variantFlag(cmd)
	a.outputFlag(cmd, "write to this file instead of printing")
	cmd.Flags().IntVar(&builds, "builds", 1, "for how many builds")
	return cmd
}

func (a *app) bom(words []string, builds int) error {
	if builds < 1 || builds > bom.MaxBuilds {
		return usage(fmt.Sprintf("write a number from 1 to %d", bom.MaxBuilds), "--builds: expected 1 or more, found %d", builds)
	}
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
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
	if a.format == "xlsx" && a.output == "" && isTerminal(a.stdout) {
		return usage("send it to a file: --output order.xlsx", "a workbook is nothing for a terminal")
	}
	b := w.BOM(variants, builds, boardTitle)
	var out bytes.Buffer
	switch a.format {
	case "json":
		enc := json.NewEncoder(&out)
		enc.SetIndent("", "  ")
		enc.SetEscapeHTML(false)
		err = enc.Encode(sideBySide(b))
	case "csv":
		err = b.WriteCSV(&out)
	case "xlsx":
		err = b.WriteXLSX(&out)
	case "md":
		err = b.WriteMarkdown(&out)
	case "html":
		err = b.WriteHTML(&out)
	default:
		a.bomText(&out, b, w)
	}
	if err != nil {
		return machine("", "writing the bill: %w", err)
	}
	if a.output != "" {
		return a.writeFile(a.output, out.Bytes())
	}
	if _, err := a.stdout.Write(out.Bytes()); err != nil {
		return machine("", "writing the bill: %w", err)
	}
	return nil
}

// boardTitle names a built-in board profile.
func boardTitle(id string) string {
	if p, err := board.Load(id); err == nil {
		return p.Title.S
	}
	return ""
}

// sane examines a design for a command that cannot work with a manifest that does not decode: its findings
// are printed and the command ends with status 1.
func (a *app) sane(s *season, name string, topics measure.Topics) (*catalogue.Entry, *bundle.Work, error) {
	e, w, err := a.examine(s, name, "", topics)
	if err != nil {
		return nil, nil, err
	}
	if w == nil {
		a.complain(e.Findings, e.Text)
		return nil, nil, unreadable("mend "+s.Path(name, catalogue.DesignFile)+" first", "the manifest of %s cannot be read as meant", name)
	}
	return e, w, nil
}

func (a *app) bomText(out io.Writer, b bom.BOM, w *bundle.Work) {
	u := *a.ui
	u.out = out
	fmt.Fprintf(out, "%s %s, for %s\n", b.Title, b.Revision, plural(b.Builds, "build"))
	last := "\x00"
	for _, s := range b.Sections() {
		if s.Key == "total" { // said in sentences below
			continue
		}
		if s.Variant != last && s.Variant != "" {
			fmt.Fprintf(out, "\n%s\n", u.bold(s.Variant))
		}
		last = s.Variant
		fmt.Fprintf(out, "\n%s\n", s.Title)
		var rows [][]string
		for i, r := range append([][]string{s.Heads}, s.Rows...) {
			line := []string{}
			for k, c := range r {
				if s.Heads[k] == "what" && i > 0 {
					c = cut(c, 56)
				}
				switch s.Heads[k] {
				case "count", "grams", "time", "cost":
					c = "\t" + c
				}
				line = append(line, c)
			}
			rows = append(rows, line)
		}
		u.table(rows)
	}
	for _, v := range b.Variants {
		var sum []string
		if v.PrintSeconds != nil {
			sum = append(sum, "printing "+unit.Duration(*v.PrintSeconds).String())
		}
		if v.Cost != nil {
			sum = append(sum, strings.TrimSpace(fmt.Sprintf("cost of what has a price %.2f %s", *v.Cost, b.Currency)))
		}
		if len(sum) > 0 {
			fmt.Fprintf(out, "\n%s: %s\n", v.Variant, strings.Join(sum, "; "))
		}
		if basis := v.Basis(); basis != "" {
			fmt.Fprintf(out, "%s: %s\n", v.Variant, basis)
		}
		if !v.Complete {
			fmt.Fprintf(out, "%s: not known: %s\n", v.Variant, strings.Join(v.Missing, ", "))
		}
	}
	a.besideText(u, b.Beside())
	if n := finding.Count(w.Checked.Findings, finding.Error); n > 0 {
		a.ui.say("note: check finds %s in this design; `dropwright check %s` shows them", plural(n, "error"), b.Design)
	}
}

// sideBySide adds the variants side by side to the bill as JSON, where there are several.
func sideBySide(b bom.BOM) any {
	out := struct {
		bom.BOM
		Beside *bom.Beside `json:"side_by_side,omitempty"`
	}{BOM: b}
	if s := b.Beside(); len(s.Rows) > 0 {
		out.Beside = &s
	}
	return out
}

// besideText prints the variants side by side: a sign and a word mark what differs, and bold print on a terminal.
func (a *app) besideText(u ui, s bom.Beside) {
	if len(s.Rows) == 0 {
		return
	}
	fmt.Fprintf(u.out, "\n%s\n", u.bold("the variants side by side"))
	if s.Differ() == 0 {
		fmt.Fprintln(u.out, "all is the same in every variant")
		return
	}
	heads, rows := s.Table()
	for i, r := range rows {
		r[2] = cut(r[2], 40)
		if s.Rows[i].Differs {
			r[1] = u.bold(r[1])
		}
	}
	u.table(append([][]string{heads}, rows...))
}

// writeFile writes a result to a file of the user's, whole or not at all.
func (a *app) writeFile(name string, data []byte) error {
	path := a.abs(name)
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return machine("name a place you may write to", "making the folder of %s: %w", name, plainly(err))
	}
	_, err := archive.WriteFile(path, archive.FileOptions{Replace: true}, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
	if err != nil {
		return machine("check the space on the disk, and that "+name+" may be written", "writing %s: %w", name, plainly(err))
	}
	a.ui.say("wrote %s", a.shown(path))
	return nil
}
