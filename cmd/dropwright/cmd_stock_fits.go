package main

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"dropwright/bundle/measure"
	"dropwright/bundle/unit"
	"dropwright/series/stock"
)

func (a *app) stockFitsCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "fits FILAMENT|LABEL",
		Short: "say which parts a spool still holds",
		Long: `Lists the parts of the designs that are offered in a filament, with what each print takes, and the spool that
holds it: the one that is left with the least. "no" means that no single spool does; "may run out" that a spool
holds what is expected, and not the upper end of the estimate.`,
		Example:           "  dropwright stock fits clay\n  dropwright stock fits clay-2 --format json",
		Args:              cobra.ExactArgs(1),
		ValidArgsFunction: a.completeSpools,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.stockFits(args[0]) },
	}
	a.formatFlag(cmd, "text", "json")
	return cmd
}

// fitsRow is one part against the spools.
type fitsRow struct {
	Design  string  `json:"design"`
	Part    string  `json:"part"`
	Variant string  `json:"variant,omitempty"`
	Grams   float64 `json:"grams"`
	Most    float64 `json:"most_grams"`
	Fits    string  `json:"fits"`            // "yes", "may run out", "no"
	Spool   string  `json:"spool,omitempty"` // the one that holds it and is left with the least
}

func (a *app) stockFits(word string) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	shelf, err := a.shelf(s)
	if err != nil {
		return err
	}
	if shelf == nil {
		shelf = &shelfFile{}
	}
	n, err := a.goodsOf(s).find(word, &shelf.Shelf)
	if err != nil {
		return err
	}
	if n.kind != stock.Spool {
		return usage("name a filament or a spool: dropwright stock lists them", "%s is no filament", word)
	}
	var spools []stock.Line
	for _, l := range shelf.Lines {
		if l.Kind == stock.Spool && l.Item == n.item && (n.one == "" || l.Label == n.one) {
			spools = append(spools, l)
		}
	}
	slices.SortStableFunc(spools, func(x, y stock.Line) int { return cmp.Compare(x.Amount, y.Amount) })
	rows, err := a.fitsRows(s, n.item, spools)
	if err != nil {
		return err
	}
	if a.format == "json" {
		return a.asJSON(rows)
	}
	if len(spools) == 0 {
		a.ui.say("note: no spool of %s is on the shelf", n.item)
	}
	for _, l := range spools {
		fmt.Fprintf(a.stdout, "%s: %s left\n", l.Label, unit.Mass(l.Amount))
	}
	if len(rows) == 0 {
		fmt.Fprintf(a.stdout, "no part of the series is offered in %s\n", n.item)
		return nil
	}
	fmt.Fprintln(a.stdout)
	table := [][]string{{"part", "\ttakes", "\tup to", "fits", "on"}}
	for _, r := range rows {
		name := r.Design + "/" + r.Part + inBrackets(r.Variant)
		table = append(table, []string{name, "\t" + unit.Mass(r.Grams).String(), "\t" + unit.Mass(r.Most).String(), r.Fits, r.Spool})
	}
	a.ui.table(table)
	return nil
}

// fitsRows goes through every part that is offered in the filament, once for each mesh.
func (a *app) fitsRows(s *season, filament string, spools []stock.Line) ([]fitsRow, error) {
	all, _, err := a.examineAll(s, measure.Topics{Estimate: true}, func(string) bool { return true })
	if err != nil {
		return nil, err
	}
	rows := []fitsRow{}
	for _, name := range s.Names {
		w := all[name].work
		if w == nil {
			continue
		}
		seen := map[[2]string]bool{}
		for _, x := range w.Facts.Parts {
			p, ok := w.Design.Part(x.Part)
			pal, _ := w.Design.Colours.Get(string(p.Colour.V))
			offered := false
			for _, f := range pal.Items {
				offered = offered || string(f.V) == filament
			}
			if key := [2]string{x.Part, x.Mesh}; !ok || !offered || x.Estimate == nil || seen[key] {
				continue
			} else {
				seen[key] = true
			}
			r := fitsRow{Design: name, Part: x.Part, Grams: round2(x.Estimate.Grams), Most: round2(x.Estimate.GramsHigh), Fits: "no"}
			if len(w.Design.Variants) > 0 && !sameMesh(w.Design, p) {
				r.Variant = x.Variant
			}
			for _, l := range spools { // from the emptiest
				if l.Amount >= r.Most {
					r.Fits, r.Spool = "yes", l.Label
					break
				}
				if l.Amount >= r.Grams {
					r.Fits, r.Spool = "may run out", l.Label
				}
			}
			rows = append(rows, r)
		}
	}
	return rows, nil
}

// round2 rounds to a hundredth of a gram: estimates are no better.
func round2(x float64) float64 { return float64(int64(x*100+0.5)) / 100 }
