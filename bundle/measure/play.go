package measure

import (
	"fmt"
	"io/fs"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/fit"
	"dropwright/bundle/mesh"
)

// mostBodies is how many placed copies of parts are looked at together; each is compared with each. Assemblies of
// printed parts have a few dozen. Our own limit.
const mostBodies = 100

// plays measures how the parts whose places are known sit in one another, for each variant; into may be nil.
func plays(fsys fs.FS, d *design.Design, into *facts.Fit) {
	if into == nil {
		return
	}
	solids := map[string]*mesh.Mesh{} // nil: not closed, or not to be read
	solid := func(file string) *mesh.Mesh {
		m, ok := solids[file]
		if !ok {
			f, x := meshAndSolid(fsys, file, Options{})
			if x != nil && f.Watertight != nil && *f.Watertight && (f.InsideOut == nil || !*f.InsideOut) {
				m = x
			}
			solids[file] = m
		}
		return m
	}
	type result struct {
		plays []facts.Play
		left  []string
	}
	done := map[string]result{}
	for _, v := range d.VariantNames() {
		list := placedCopies(d, v)
		names := map[string]bool{}
		for _, s := range list {
			names[s.part] = true
		}
		if len(names) < 2 {
			continue
		}
		if len(list) > mostBodies {
			into.PlaysUnknown = fmt.Sprintf("how the %d placed copies of parts sit in one another: at most %d are compared", len(list), mostBodies)
			continue
		}
		key := strings.Builder{}
		var bodies []fit.Body
		for _, s := range list {
			fmt.Fprintln(&key, s)
			if m := solid(s.file); m != nil {
				if s.mirrored {
					m = mesh.Mirror(m)
				}
				bodies = append(bodies, fit.Body{Part: s.part, Mesh: mesh.Transform(m, s.move)})
			}
		}
		found, ok := done[key.String()]
		if !ok {
			found.plays, found.left = fit.Plays(bodies)
			done[key.String()] = found
		}
		if len(found.left) > 0 {
			into.PlaysUnknown = "how " + strings.Join(found.left, ", ") + " sit in one another: too much surface lies behind surface"
		}
		for _, p := range found.plays {
			p.Variant = v
			into.Plays = append(into.Plays, p)
		}
	}
}

// placedCopy is one copy of a part whose place is known.
type placedCopy struct {
	part, file string
	mirrored   bool
	move       mesh.Matrix
}

// placedCopies lists the copies of a variant's parts that have a place, as drawn first, then the mirror images. In a
// shared frame a part of one copy stands where it is drawn.
func placedCopies(d *design.Design, v string) []placedCopy {
	var out []placedCopy
	for _, p := range d.PartsOf(v) {
		file, ok := p.Mesh.For(v)
		if !ok || !built(p) {
			continue
		}
		drawn, mirrored := p.CopiesOf(v)
		if len(p.Place) == 0 && string(d.Frame.V) == "assembled" && drawn == 1 && mirrored == 0 {
			out = append(out, placedCopy{string(p.Name.V), string(file.V), false, mesh.Identity})
		}
		for i, at := range p.Place {
			if i < drawn+mirrored {
				out = append(out, placedCopy{string(p.Name.V), string(file.V), i >= drawn, placement(at)})
			}
		}
	}
	return out
}
