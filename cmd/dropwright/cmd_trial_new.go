package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"dropwright/bundle/design"
	"dropwright/bundle/measure"
	"dropwright/bundle/trial"
	"dropwright/bundle/unit"
	"dropwright/series/catalogue"
)

// newTrial is one print that is about to be logged.
type newTrial struct {
	*app
	season *season
	entry  *catalogue.Entry
}

// names are the words that the line may hold.
func (t *newTrial) names() trial.Names {
	c := t.season.Config
	n := trial.Names{Parts: partsOf(t.entry.Design), Filaments: c.FilamentNames()}
	for _, p := range c.Printers {
		n.Printers = append(n.Printers, string(p.Name.V))
	}
	for _, v := range t.entry.Design.Variants {
		n.Variants = append(n.Variants, string(v.Name.V))
	}
	return n
}

// complete adds what the line leaves out: the last printer and filament, the mesh, the settings, the model's
// figure.
func (t *newTrial) complete(r *trial.Record, log []trial.Record) error {
	d := t.entry.Design
	r.At, r.Design = t.now().UTC().Truncate(time.Second), t.entry.Name
	p, _ := d.Part(r.Part)
	variant, err := t.variantOf(p, r.Variant)
	if err != nil {
		return err
	}
	pr, err := t.printer(r.Printer, log)
	if err != nil {
		return err
	}
	fil := t.filament(r.Filament, p, log)
	r.Printer, r.Filament, r.Material = string(pr.Name.V), string(fil.Name.V), string(fil.Material.V)
	if len(d.Variants) > 0 && !sameMesh(d, p) {
		r.Variant = variant
	}
	f, err := measure.Model(t.entry.FS, d, &t.season.Config.House, r.Part, variant, pr, fil)
	r.Mesh, r.Settings = f.Mesh, f.Settings.Map()
	switch {
	case errors.Is(err, measure.ErrNoPart) || f.Mesh == "":
		return unreadable("`dropwright check "+r.Design+"` says what is wrong", "the mesh of %s cannot be read, so a trial would be of nothing: %w", r.Part, err)
	case err != nil:
		t.ui.say("note: logged without the model's figure, so nothing is learnt from mass and time: %v", err)
	default:
		r.Model = trial.FigureOf(f.Estimate, r.Copies, f.Machine.Start)
	}
	return nil
}

// variantsOf are the variants that print a part.
func variantsOf(d *design.Design, p design.Part) []string {
	var out []string
	for _, v := range d.VariantNames() {
		if _, ok := p.Mesh.For(v); ok && p.Only.Has(v) {
			out = append(out, v)
		}
	}
	return out
}

// sameMesh says whether every variant prints a part from one file.
func sameMesh(d *design.Design, p design.Part) bool {
	seen := map[design.Path]bool{}
	for _, v := range variantsOf(d, p) {
		m, _ := p.Mesh.For(v)
		seen[m.V] = true
	}
	return len(seen) <= 1
}

// variantOf is the variant whose mesh was printed: the one that was named, or any where all print the same.
func (t *newTrial) variantOf(p design.Part, named string) (string, error) {
	d := t.entry.Design
	have := variantsOf(d, p)
	switch {
	case len(have) == 0:
		return "", unreadable("`dropwright check "+t.entry.Name+"` says what is wrong", "%s names no mesh", p.Name.V)
	case slices.Contains(have, named):
		return named, nil
	case named != "":
		return "", usage("name one of "+strings.Join(have, ", "), "the variant %s does not print %s", named, p.Name.V)
	case len(have) == 1 || sameMesh(d, p):
		return have[0], nil
	}
	return "", usage("name one of "+strings.Join(have, ", "), "which variant? each has a mesh of its own for %s", p.Name.V)
}

// printer is the one named, else the last used, else the only one.
func (t *newTrial) printer(named string, log []trial.Record) (design.Printer, error) {
	last, _ := trial.LastUsed(log)
	var names []string
	byName := map[string]design.Printer{}
	for _, p := range t.season.Config.Printers {
		names = append(names, string(p.Name.V))
		byName[string(p.Name.V)] = p
	}
	for _, n := range []string{named, last} {
		if p, ok := byName[n]; ok {
			return p, nil
		}
	}
	if len(names) == 1 {
		return byName[names[0]], nil
	}
	return design.Printer{}, usage("write its name among the words, one of "+strings.Join(names, ", ")+"; from then on the last used is taken", "which printer?")
}

// filament is the one named, else the last used where the part offers it, else the part's own.
func (t *newTrial) filament(named string, p design.Part, log []trial.Record) design.Filament {
	_, last := trial.LastUsed(log)
	pal, _ := t.entry.Design.Colours.Get(string(p.Colour.V))
	offered := pal.First().V == ""
	for _, x := range pal.Items {
		offered = offered || string(x.V) == last
	}
	if !offered {
		last = "" // it was loaded for another part
	}
	for _, n := range []string{named, last, string(pal.First().V)} {
		if f, ok := t.season.Config.Filament(n); ok {
			return f
		}
	}
	return design.Filament{}
}

// said tells what was logged, so that a slip of the keyboard is seen at once.
func (t *newTrial) said(r trial.Record) string {
	what := r.Design + "/" + r.Part
	if r.Variant != "" {
		what += " " + r.Variant
	}
	if r.Copies > 1 {
		what += fmt.Sprintf(" × %d", r.Copies)
	}
	text := fmt.Sprintf("logged: %s on %s in %s", what, r.Printer, orNone(r.Filament))
	if r.Outcome != "" {
		text += ", " + r.Outcome
	}
	figure := func(measured, model string, has, modelled bool) {
		if has {
			text += ", " + measured
			if modelled {
				text += " (the model: " + model + ")"
			}
		}
	}
	m := r.Model
	if m == nil {
		m = &trial.Figure{}
	}
	figure(unit.Mass(r.Grams).String(), unit.Mass(m.Grams).String(), r.Grams > 0, r.Model != nil)
	figure(unit.Duration(r.Seconds).String(), unit.Duration(m.Seconds).String(), r.Seconds > 0, r.Model != nil)
	for _, h := range r.Holes {
		text += fmt.Sprintf(", hole %s mm came out %s mm", unit.Number(h.Drawn), unit.Number(h.Measured))
	}
	if r.Note != "" {
		text += fmt.Sprintf(", %q", r.Note)
	}
	return text
}

// meshChanged tells of a record whether its part's mesh is another one now; nil when that is not known. Designs
// and hashes are looked up once.
func (a *app) meshChanged(s *season) func(trial.Record) *bool {
	entries := map[string]*catalogue.Entry{}
	hashes := map[string]string{}
	return func(r trial.Record) *bool {
		if r.Mesh == "" || !s.Has(r.Design) {
			return nil
		}
		e, ok := entries[r.Design]
		if !ok {
			e, _ = s.Load(r.Design)
			entries[r.Design] = e
		}
		if e == nil || e.Design == nil {
			return nil
		}
		p, ok := e.Design.Part(r.Part)
		if !ok {
			return nil
		}
		variants := variantsOf(e.Design, p)
		if slices.Contains(variants, r.Variant) {
			variants = []string{r.Variant}
		}
		changed := true
		for _, v := range variants {
			m, _ := p.Mesh.For(v)
			key := r.Design + "/" + string(m.V)
			if _, ok := hashes[key]; !ok {
				hashes[key], _ = measure.Hash(e.FS, string(m.V))
			}
			if hashes[key] == r.Mesh {
				changed = false
			}
		}
		if len(variants) == 0 {
			return nil
		}
		return &changed
	}
}
