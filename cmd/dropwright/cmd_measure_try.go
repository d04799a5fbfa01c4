package main

import (
	"cmp"
	"fmt"
	"slices"

	"dropwright/bundle/estimate"
	"dropwright/bundle/measure"
	"dropwright/bundle/unit"
)

// faultWhy explains each kind of fault that measure may name.
var faultWhy = map[string]string{
	"open-edge":           "An edge with a face on one side only: the surface has a hole, so nobody can tell inside from outside there and the volume is not a fact. Slicing programs guess. Close the solid in CAD and export again.",
	"nonmanifold-edge":    "An edge shared by more than two faces: two bodies touch along it, or a wall has no thickness there. Most print as meant; join the bodies or leave a gap where they should be apart.",
	"flipped-edge":        "The two faces of this edge disagree which side is outside: one of them is turned over. Turn its normal in CAD, or export again.",
	"degenerate-triangle": "A triangle without area: three corners on a line or in a point. It prints as nothing and does no harm but for tools that trip over it.",
	"duplicate-triangle":  "Two triangles on the same three corners: a face exported twice, often from two bodies in one place.",
	"inside-out":          "The whole surface faces inwards, so its volume is negative. Turn all normals over, or export again.",
	"shell-sign":          "A shell inside another adds material where it should hollow it out, or the reverse: a cavity whose faces look the wrong way would be printed solid.",
	"shell-overlap":       "A shell lies partly in another: volume and plastic count the common part twice. Join the bodies in CAD.",
}

// tried is one row of what another setting would give, and what that is against the present ones.
type tried struct {
	File     string            `json:"file"`
	Settings map[string]string `json:"settings"`
	Grams    float64           `json:"grams"`
	Seconds  float64           `json:"seconds"`
	Cost     *float64          `json:"cost,omitempty"` // of the filament
	Basis    string            `json:"basis"`
	Against  difference        `json:"against"` // more than with the present settings, below zero: less
}

type difference struct {
	Grams   float64  `json:"grams"`
	Seconds float64  `json:"seconds"`
	Cost    *float64 `json:"cost,omitempty"`
}

// try prints, for each file, what every combination of the tried settings would give against the present ones.
// A print file is left out of it: it knows one setting only.
func (a *app) try(files []meshFile, opt measure.Options, o measureOptions) error {
	var list []estimate.Try
	for _, t := range o.tries {
		x, err := estimate.ParseTry(t)
		if err != nil {
			return usage("write --try layer=0.12,0.2,0.28", "--try: %w", err)
		}
		list = append(list, x)
	}
	opt.Topics = measure.Topics{Estimate: true}
	rows := []tried{}
	missing := 0
	for i, f := range files {
		opt := f.options(opt)
		opt.Print.Toolpath = ""
		list := withPresent(list, opt.Print.Settings)
		vars, err := estimate.Variations(opt.Print.Settings, list)
		if err != nil {
			return usage("write fewer values, or others", "--try: %w", err)
		}
		present := measure.Mesh(f.fsys, f.name, opt)
		now := present.Estimate
		if now == nil {
			missing++
			a.ui.say("%s: no estimate: %s", f.shown, cmp.Or(present.Error, present.Unestimated, "it holds no body"))
			continue
		}
		cost := func(grams float64) *float64 {
			if f.price == 0 {
				return nil
			}
			c := grams / 1000 * f.price
			return &c
		}
		head, line := []string{}, []string{}
		for _, t := range list {
			head = append(head, t.Name)
			line = append(line, fmt.Sprint(now.Settings[t.Name]))
		}
		table := [][]string{append(head, "\tgrams", "\ttime", "\tcost", "\tagainst now")}
		table = append(table, append(line, "\t"+unit.Mass(now.Grams).String(), "\t"+unit.Duration(now.Seconds).String(), "\t"+costText(cost(now.Grams)), "\tnow"))
		for _, v := range vars {
			if err := a.ctx.Err(); err != nil {
				return err
			}
			if len(list) > 1 && slices.Equal(v.Values, line) {
				continue // that is the row of now
			}
			opt.Print.Settings = v.Settings
			a.ui.step("%s with %v", f.shown, v.Values)
			m := measure.Mesh(f.fsys, f.name, opt)
			if m.Estimate == nil {
				a.ui.say("%s with %v: no estimate: %s", f.shown, v.Values, cmp.Or(m.Error, m.Unestimated))
				continue
			}
			e := m.Estimate
			r := tried{File: f.shown, Settings: map[string]string{}, Grams: e.Grams, Seconds: e.Seconds, Cost: cost(e.Grams), Basis: e.Basis,
				Against: difference{e.Grams - now.Grams, e.Seconds - now.Seconds, cost(e.Grams - now.Grams)}}
			line := []string{}
			for k, t := range list {
				r.Settings[t.Name] = v.Values[k]
				line = append(line, v.Values[k])
			}
			rows = append(rows, r)
			against := fmt.Sprintf("\t%+.1f g, %+.0f %% time", r.Against.Grams, 100*r.Against.Seconds/now.Seconds)
			if r.Against.Cost != nil {
				against += fmt.Sprintf(", %+.2f", *r.Against.Cost)
			}
			table = append(table, append(line, "\t"+unit.Mass(r.Grams).String(), "\t"+unit.Duration(r.Seconds).String(), "\t"+costText(r.Cost), against))
		}
		if a.format != "json" {
			if i > 0 {
				fmt.Fprintln(a.stdout)
			}
			fmt.Fprintln(a.stdout, a.ui.bold(f.shown))
			if f.price == 0 {
				table = without(table, len(list)+2)
			}
			a.ui.table(table)
		}
	}
	if a.format == "json" {
		if err := a.asJSON(rows); err != nil {
			return err
		}
	}
	if missing > 0 {
		return unreadable("what was wrong with each stands with its name", "%s of %d gave no estimate", plural(missing, "file"), len(files))
	}
	return nil
}

// withPresent adds the present value of each setting to its list where several are tried, so that each is also
// seen to change alone.
func withPresent(list []estimate.Try, present estimate.Settings) []estimate.Try {
	if len(list) < 2 {
		return list
	}
	now := present.Map()
	out := slices.Clone(list)
	for i, t := range list {
		if v, ok := now[t.Name]; ok && !slices.Contains(t.Values, fmt.Sprint(v)) {
			out[i].Values = append([]string{fmt.Sprint(v)}, t.Values...)
		}
	}
	return out
}

func costText(c *float64) string {
	if c == nil {
		return ""
	}
	return unit.Money(*c).String()
}

// without takes a column out of a table.
func without(table [][]string, column int) [][]string {
	for i := range table {
		table[i] = slices.Delete(table[i], column, column+1)
	}
	return table
}
