package main

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/measure"
	"dropwright/bundle/trial"
	"dropwright/bundle/unit"
	"dropwright/series/catalogue"
)

// meshSearch turns the words of the command line into files. It keeps the series open that designs are read
// from.
type meshSearch struct {
	*app
	options measureOptions
	season  *season
}

func (m *meshSearch) close() {
	if m.season != nil {
		m.season.close()
	}
}

// factors is what was learnt from the series' trials; nil where no design is measured.
func (m *meshSearch) factors() []trial.Factors {
	if m.season == nil {
		return nil
	}
	return m.app.factors(m.season)
}

// files turns the words of the command line into files: each word is a file, a folder, a pattern, or
// the name of a design.
func (m *meshSearch) files(words []string) ([]meshFile, error) {
	var out []meshFile
	fail := func(err error) ([]meshFile, error) { return nil, err }
	a, byDir := m.app, map[string]fs.FS{}
	add := func(shown string) {
		full := a.abs(shown)
		dir := filepath.Dir(full)
		if byDir[dir] == nil {
			byDir[dir] = os.DirFS(dir)
		}
		out = append(out, meshFile{shown: filepath.ToSlash(shown), fsys: byDir[dir], name: filepath.Base(full), price: m.options.price})
	}
	for _, w := range words {
		st, err := os.Stat(a.abs(w))
		switch {
		case err == nil && st.IsDir():
			n := len(out)
			if err := a.walkMeshes(w, add); err != nil {
				return fail(machine("check that you may read it", "looking through %s: %w", w, err))
			}
			if len(out) == n {
				return fail(unreadable("meshes end in .stl or .3mf", "no mesh in %s", w))
			}
		case err == nil:
			add(w)
		case strings.ContainsAny(w, "*?["):
			found, gerr := filepath.Glob(a.abs(w))
			if gerr != nil || len(found) == 0 {
				return fail(unreadable("check the pattern; the shell fills patterns in when they stand without quotes", "no file matches %s", w))
			}
			for _, f := range found {
				add(a.shown(f))
			}
		default:
			meshes, derr := m.design(w)
			if derr != nil {
				return fail(derr)
			}
			if meshes == nil { // neither file nor design: measured as a file, which says so in its place
				add(w)
				continue
			}
			out = append(out, meshes...)
		}
	}
	return out, nil
}

// design returns the mesh files of a design as its parts are printed, nil when the word names none.
func (m *meshSearch) design(word string) ([]meshFile, error) {
	a := m.app
	if _, err := a.findSeries(); err != nil || strings.ContainsAny(word, `./\`) {
		return nil, nil
	}
	if m.season == nil {
		s, err := a.openSeries()
		if err != nil {
			return nil, nil
		}
		if s.Config == nil {
			s.close()
			return nil, nil
		}
		m.season = s
	}
	s := m.season
	name, err := a.oneDesign(s, []string{word})
	if err != nil {
		return nil, err
	}
	e, err := s.Load(name)
	if err != nil {
		return nil, machine("", "%w", err)
	}
	if e.Design == nil {
		return nil, unreadable("`dropwright check "+name+"` says where", "the manifest of %s cannot be read", name)
	}
	out := []meshFile{}
	for _, f := range e.Design.Files() {
		shown := a.shown(filepath.Join(s.dir, catalogue.DesignsDir, name, filepath.FromSlash(string(f.Path))))
		if f.Kind != "mesh" || slices.ContainsFunc(out, func(x meshFile) bool { return x.shown == shown }) {
			continue
		}
		x := meshFile{shown: shown, fsys: e.FS, name: string(f.Path), price: m.options.price}
		if err := m.printed(&x, e.Design, &s.Config.House); err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	return out, nil
}

// printed fills in how a mesh of a design is printed: as the first part made of it, with the settings that
// were given as flags changed.
func (m *meshSearch) printed(x *meshFile, d *design.Design, house *design.House) error {
	for _, p := range d.Parts {
		if p.Role.V == "reference" || !slices.ContainsFunc(p.Mesh.Values(), func(v design.Val[design.Path]) bool { return string(v.V) == x.name }) {
			continue
		}
		how := measure.PrintingOf(p, d, house)
		for _, c := range m.options.changed {
			if err := how.Settings.Set(c[0], c[1]); err != nil {
				return usage("write --"+c[0]+" as its help shows", "%w", err)
			}
			if c[0] == "material" {
				how.Settings.Density = 0 // that was the filament's
			}
			how.Toolpath = "" // it was made with other settings
		}
		if pal, ok := d.Colours.Get(string(p.Colour.V)); ok && x.price == 0 {
			if f, ok := house.Filament(string(pal.First().V)); ok {
				x.price = float64(f.PricePerKg.V)
			}
		}
		x.how = &how
		return nil
	}
	return nil
}

// printEstimate prints plastic and time with their spread and what they rest on.
func (a *app) printEstimate(f facts.Mesh, row func(string, string, ...any)) {
	e := f.Estimate
	if e == nil {
		if f.Unestimated != "" {
			row("plastic", "not known: %s", f.Unestimated)
		}
		return
	}
	s := e.Settings
	with := fmt.Sprintf("%v %% infill, %v walls, layers of %v mm", s["infill"], s["walls"], s["layer"])
	if e.Basis == "toolpath" {
		with = "as its print file says"
	}
	row("plastic", "%.1f g (%.1f to %.1f), %.2f m of %v; %s", e.Grams, e.GramsLow, e.GramsHigh, e.Metres, s["material"], with)
	row("time", "%s (%s to %s), %s", unit.Duration(e.Seconds), unit.Duration(e.SecondsLow), unit.Duration(e.SecondsHigh), plural(e.Layers, "layer"))
	row("rests on", "%s", e.Band)
	for _, n := range e.Notes {
		row("note", "%s", n)
	}
}
