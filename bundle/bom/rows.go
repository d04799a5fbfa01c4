package bom

import (
	"fmt"
	"strings"

	"dropwright/bundle/hardware"
	"dropwright/bundle/unit"
)

// Row is one line of the bill as a table: the same rows whatever the format they are printed in.
type Row struct {
	Variant string
	Section string // "print", "filament", "load", "fastener", "bought", "supply", "total"
	Item    string
	What    string
	Count   string // a number, without a unit
	Unit    string
	Packs   string // whole packs to order; of filament, the share of a full spool
	PackOf  string // how many are in one
	Grams   string // of one part; of filament, of all its parts
	Time    string // of one, "2h07m"
	Cost    string // in the bill's currency
	From    string // where it came from: mesh, joints, list; and the steps that take it up

	seconds *float64 // what Time says
}

// Heads are the column titles of Rows.
var Heads = []string{"variant", "section", "item", "what", "count", "unit", "packs", "pack of", "grams", "time", "cost", "from"}

// Cells are the row's values in the order of Heads.
func (r Row) Cells() []string {
	return []string{r.Variant, r.Section, r.Item, r.What, r.Count, r.Unit, r.Packs, r.PackOf, r.Grams, r.Time, r.Cost, r.From}
}

// Rows flattens the bill for tables.
func (b BOM) Rows() []Row {
	var out []Row
	for _, v := range b.Variants {
		for _, p := range v.Parts {
			what := "colour " + p.Role
			if p.Title != "" {
				what = p.Title + ", " + what
			}
			if p.Mirrored > 0 {
				what += fmt.Sprintf(", of these %d mirrored", p.Mirrored)
			}
			out = append(out, Row{Variant: v.Variant, Section: "print", Item: p.Name, What: what, Count: fmt.Sprint(p.Copies + p.Mirrored), Unit: "pcs",
				Grams: number(p.Grams, 1), Time: duration(p.Seconds), From: from(p.Mesh, p.Steps), seconds: p.Seconds})
		}
		for _, f := range v.Filament {
			what := f.Material + " " + f.Colour
			if len(f.Also) > 0 {
				what += ", or " + strings.Join(f.Also, ", ")
			}
			out = append(out, Row{Variant: v.Variant, Section: "filament", Item: f.Filament, What: what, Count: number(f.Metres, 1), Unit: ifSet(f.Metres, "m"),
				Packs: number(f.Spools, 2), Grams: number(f.Grams, 0), Cost: number(f.Cost, 2), From: "colour role " + f.Role})
		}
		for _, f := range v.Filament {
			out = append(out, loadRows(v.Variant, f)...)
		}
		for _, f := range v.Fasteners {
			out = append(out, Row{Variant: v.Variant, Section: "fastener", Item: f.Designation, What: f.Kind + turned(f.Designation) + optional(f.Optional), Count: fmt.Sprint(f.Count), Unit: "pcs",
				Packs: whole(f.Packs), PackOf: figure(f.PackOf), Cost: number(f.Cost, 2), From: from(strings.Join(f.UsedBy, ", "), f.Steps)})
		}
		for _, x := range v.Bought {
			u := x.Unit
			if u == "" {
				u = "pcs"
			}
			what := x.What + optional(x.Optional)
			if len(x.Instead) > 0 {
				what += "; instead: " + strings.Join(x.Instead, " or ")
			}
			out = append(out, Row{Variant: v.Variant, Section: "bought", Item: x.Name, What: what, Count: unit.Number(x.Count), Unit: u,
				Packs: whole(x.Packs), PackOf: figure(x.PackOf), Cost: number(x.Cost, 2), From: from(x.Kind, x.Steps)})
		}
		for _, s := range v.Supplies {
			out = append(out, Row{Variant: v.Variant, Section: "supply", Item: s, What: "as needed", From: "supplies"})
		}
		out = append(out, v.totals(b.Currency)...)
	}
	return out
}

// from says where a row came from: its mesh, joints or list, and the steps that take it up.
func from(where string, steps []int) string {
	if len(steps) == 0 {
		return where
	}
	words := make([]string, len(steps))
	for i, n := range steps {
		words[i] = fmt.Sprint(n)
	}
	if len(steps) == 1 {
		return where + "; step " + words[0]
	}
	return where + "; steps " + strings.Join(words, ", ")
}

// totals are the sums of a variant, with what they leave out.
func (v Variant) totals(currency string) []Row {
	var out []Row
	if v.PrintSeconds != nil {
		out = append(out, Row{Variant: v.Variant, Section: "total", Item: "printing", What: "all parts one after another", Time: duration(v.PrintSeconds), seconds: v.PrintSeconds})
	}
	if v.Cost != nil {
		out = append(out, Row{Variant: v.Variant, Section: "total", Item: "cost", What: "of what has a price", Unit: currency, Cost: number(v.Cost, 2)})
	}
	for _, m := range v.Missing {
		out = append(out, Row{Variant: v.Variant, Section: "total", Item: "not known", What: m})
	}
	return out
}

// turned is a screw's head and what turns it, in words: ", pan head, PH1 screwdriver"; "" where a designation says
// nothing of them.
func turned(designation string) string {
	d, err := hardware.ParseDesignation(designation)
	if err != nil || d.Kind != hardware.KindScrew {
		return ""
	}
	out := ""
	if s, ok := hardware.StandardOf(d.Standard); ok && s.Head != "" {
		out = ", " + string(s.Head) + " head"
	}
	if t, _, ok := hardware.Tool(d); ok {
		out += ", " + t.String()
	}
	return out
}

func optional(yes bool) string {
	if yes {
		return " (optional)"
	}
	return ""
}

func whole(n *int) string {
	if n == nil {
		return ""
	}
	return fmt.Sprint(*n)
}

func figure(x *float64) string {
	if x == nil {
		return ""
	}
	return unit.Number(*x)
}

func number(x *float64, digits int) string {
	if x == nil {
		return ""
	}
	return fmt.Sprintf("%.*f", digits, *x)
}

func ifSet(x *float64, s string) string {
	if x == nil {
		return ""
	}
	return s
}

func duration(s *float64) string {
	if s == nil {
		return ""
	}
	return unit.Duration(*s).String()
}
