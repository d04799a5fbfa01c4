package main

import (
	"encoding/json"
	"fmt"

	"dropwright/bundle/estimate"
	"dropwright/bundle/facts"
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

// tried is one row of what another setting would give.
type tried struct {
	File     string            `json:"file"`
	Settings map[string]string `json:"settings"`
	Grams    float64           `json:"grams"`
	Seconds  float64           `json:"seconds"`
}

// try prints, for each file, what every combination of the tried settings would give against the present ones.
func (a *app) try(files []meshFile, base []facts.Mesh, opt measure.Options, tries []string) error {
	var list []estimate.Try
	for _, t := range tries {
		x, err := estimate.ParseTry(t)
		if err != nil {
			return usage("write --try layer=0.12,0.2,0.28", "--try: %w", err)
		}
		list = append(list, x)
	}
	vars, err := estimate.Variations(opt.Print, list)
	if err != nil {
		return usage("write fewer values, or others", "--try: %w", err)
	}
	opt.Topics = measure.Topics{Estimate: true}
	rows := []tried{}
	for i, f := range files {
		if base[i].Estimate == nil {
			continue
		}
		table := [][]string{}
		head := []string{}
		for _, t := range list {
			head = append(head, t.Name)
		}
		table = append(table, append(head, "\tgrams", "\ttime", "\tagainst now"))
		for _, v := range vars {
			if err := a.ctx.Err(); err != nil {
				return err
			}
			opt.Print = v.Settings
			a.ui.step("%s with %v", f.shown, v.Values)
			m := measure.Mesh(f.fsys, f.name, opt)
			if m.Estimate == nil {
				continue
			}
			r := tried{File: f.shown, Settings: map[string]string{}, Grams: m.Estimate.Grams, Seconds: m.Estimate.Seconds}
			line := []string{}
			for k, t := range list {
				r.Settings[t.Name] = v.Values[k]
				line = append(line, v.Values[k])
			}
			rows = append(rows, r)
			now := base[i].Estimate
			table = append(table, append(line, "\t"+unit.Mass(r.Grams).String(), "\t"+unit.Duration(r.Seconds).String(),
				fmt.Sprintf("\t%+.1f g, %+.0f %% time", r.Grams-now.Grams, 100*(r.Seconds/now.Seconds-1))))
		}
		if a.format != "json" {
			fmt.Fprintln(a.stdout, a.ui.bold(f.shown))
			a.ui.table(table)
		}
	}
	if a.format == "json" {
		enc := json.NewEncoder(a.stdout)
		enc.SetIndent("", "  ")
		return enc.Encode(rows)
	}
	return nil
}
