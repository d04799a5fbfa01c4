package adopt

import (
	"fmt"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/fit"
	"dropwright/bundle/hardware"
)

// compose writes down what a screw passes and goes into.
func (r *reader) compose(f *fastener, j *joint, it *fastening, m mention) {
	f.name = string(m.size) + "-screw"
	if it != nil {
		f.by, f.countBy = it.from, it.from
	}
	if j == nil || j.part == nil {
		f.name = design.Kebab(strings.ReplaceAll(strings.ToLower(m.what()), ".", "-")) + "-screw"
		f.joint = nil
		if it != nil {
			f.through, f.name = r.namedIn(it, f.name)
		}
		return
	}
	f.name = j.name()
	f.through = slices.Clone(j.through)
	f.into = j.into
	f.jointBy = origin{j.from, Likely}
	u, ok := j.use(m.size)
	if !ok && len(j.options) > 0 {
		u = j.options[0]
	}
	if it != nil && len(j.through) == 0 {
		var name string
		f.through, name = r.namedIn(it, "")
		if name != "" {
			f.name = name
		}
		f.through = slices.DeleteFunc(f.through, func(s string) bool { return s == j.into })
	}
	switch u.role {
	case fit.Insert:
		f.insert = r.insertFor(u.size, j)
	case fit.Nut:
		f.nut = r.nutFor(u.size)
		if !slices.Contains(f.through, j.into) {
			f.through = append(f.through, j.into)
		}
	}
}

// namedIn are the bought things or boards that a list's line says a screw is for, with a name after the first.
func (r *reader) namedIn(it *fastening, fallback string) (through []string, name string) {
	w := textWords(it.text)
	for _, b := range r.bought {
		if b.fastener || b.entry == it.e {
			continue
		}
		if r.namesThing(w, b) {
			through = append(through, b.name)
			break
		}
	}
	if len(through) == 0 {
		through = r.besideInTexts(it)
	}
	if len(through) > 0 {
		return through, through[0] + "-screw"
	}
	for _, p := range r.parts {
		if findWords(w, p.stemmed()) >= 0 {
			return nil, p.name + "-screw"
		}
	}
	return nil, fallback
}

// besideInTexts is the bought thing that a sentence of the texts names beside a screw: "sensor onto the lid, two
// M2x6".
func (r *reader) besideInTexts(it *fastening) []string {
	for _, d := range r.docs {
		for _, b := range d.blocks {
			if b.kind != item && b.kind != paragraph || b.text == it.text {
				continue
			}
			found := fastenersIn(b.text)
			if !slices.ContainsFunc(found, func(m mention) bool {
				return m.kind == hardware.KindScrew && m.size == it.m.size && m.length == it.m.length
			}) || len(found) > 2 {
				continue
			}
			w := textWords(b.text)
			for _, t := range r.bought {
				if !t.fastener && t.entry != it.e && r.namesThing(w, t) {
					return []string{t.name}
				}
			}
		}
	}
	return nil
}

// insertFor is the insert that the lists name for a thread, or the published one that suits the hole.
func (r *reader) insertFor(size hardware.Size, j *joint) *insertIn {
	for _, it := range r.items {
		if it.m.kind == hardware.KindInsert && it.m.size == size && it.inVariant(j.variant) {
			in := &insertIn{size, it.m.outer, it.m.length, it.from}
			if in.outer == 0 || in.length == 0 {
				o, l := r.usualInsert(size, j)
				if in.outer == 0 {
					in.outer = o
				}
				if in.length == 0 {
					in.length = l
				}
				in.by = origin{it.from.from + "; outer and length from the hole and the table of inserts", Guess}
			}
			return in
		}
	}
	o, l := r.usualInsert(size, j)
	return &insertIn{size, o, l, origin{"the hole's width and the table of inserts", Guess}}
}

// usualInsert is the published insert of a thread whose hole is nearest to the joint's and that its depth takes.
func (r *reader) usualInsert(size hardware.Size, j *joint) (outer, length float64) {
	outer, length = 1.53*size.Nominal(), 1.9*size.Nominal()
	depth := 0.0
	if j.part != nil {
		if s := j.part.meshIn(j.variant); s != nil && s.shape != nil {
			for i := range s.shape.Holes {
				if h := &s.shape.Holes[i]; h.Passes > j.width-0.01 && h.Passes < j.width+0.01 && depth == 0 {
					depth = h.Depth
				}
			}
		}
	}
	t, ok := hardware.TableOf("insert")
	if !ok {
		return
	}
	best := 1e9
	for _, row := range t.Rows {
		o, ok1 := row.Number("outer")
		l, ok2 := row.Number("length")
		hole, ok3 := row.Number("hole")
		if row.Text("size") != string(size) || !ok1 || !ok2 || !ok3 || depth > 0 && l > depth {
			continue
		}
		if d := abs(hole-j.width) - l/100; d < best {
			best, outer, length = d, o, l
		}
	}
	return outer, length
}

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}

// nutFor is the nut that the lists name for a thread.
func (r *reader) nutFor(size hardware.Size) string {
	for _, it := range r.items {
		if it.m.kind == hardware.KindNut && it.m.size == size && it.m.standard != "" {
			return it.m.standard
		}
	}
	return hardware.DefaultNut
}

// guessScrew proposes a screw for holes that no list speaks of.
func (r *reader) guessScrew(j *joint) (mention, bool) {
	if len(j.options) == 0 || j.kind == restJoint || !j.sure {
		return mention{}, false
	}
	m := mention{kind: hardware.KindScrew, size: j.options[0].size}
	probe := m
	probe.length = 10
	l := r.lengthsOf(j, probe)
	if l == nil || len(l.Made) == 0 {
		m.length = usualLength(m.size)
		return m, true
	}
	m.length = l.Made[0]
	if !l.Open { // the more thread bites, the better it holds
		m.length = l.Made[len(l.Made)-1]
	}
	return m, true
}

// usualLength is what stands for a length that nothing tells: about three diameters, as made.
func usualLength(size hardware.Size) float64 {
	made, _ := hardware.MadeLengths("ISO 4762", size)
	l, ok := hardware.NextLength(3*size.Nominal(), made)
	if !ok {
		return 10
	}
	return l
}

// nearJoint looks for holes of a wrong width that a listed screw is meant for: as many as it has screws, in the
// pattern of the holes it passes in another part.
func (r *reader) nearJoint(v string, it *fastening) *joint {
	if !it.counted || it.count < 2 || it.m.length == 0 {
		return nil
	}
	role := fit.Thread
	for _, x := range r.items {
		if x.m.kind == hardware.KindInsert && x.m.size == it.m.size && x.inVariant(v) {
			role = fit.Insert
		}
	}
	holed := func(p *part) *fit.Shape {
		if x := p.meshIn(v); x != nil && x.shape != nil && p.printable() && len(x.shape.Holes) > 0 && len(x.shape.Holes) <= maxHoles {
			return x.shape
		}
		return nil
	}
	for _, p := range r.parts {
		sp := holed(p)
		if sp == nil || len(fit.Suited(sp, it.m.size, fit.Clearance, r.allowance(), 0))*p.total() < it.count {
			continue
		}
		for _, q := range r.parts {
			if sq := holed(q); p == q || sq == nil || len(sq.Holes)*q.total() < it.count {
				continue
			}
			j := &joint{through: []string{p.name}, into: q.name, part: q, kind: pairJoint, options: []holeUse{{role, it.m.size}}, count: it.count, variant: v, from: fmt.Sprintf("%d holes of %s over as many of %s, of a width that does not suit", it.count, p.meshIn(v).file, q.meshIn(v).file)}
			f := &fastener{}
			r.compose(f, j, nil, it.m)
			fj := r.try(v, f, it.m, it.count)
			if fj == nil {
				continue
			}
			whole := len(fj.Members) >= 2
			for _, m := range fj.Members {
				whole = whole && (m.Kind != "part" || m.Matched && m.Found >= it.count)
				for _, h := range m.Holes {
					whole = whole && !h.Missing
				}
			}
			if whole {
				j.sure = true
				return j
			}
		}
	}
	return nil
}

// looseNuts gives nuts of the lists that no pocket takes to screws that go through and through.
func (r *reader) looseNuts() {
	for _, it := range r.items {
		if it.m.kind != hardware.KindNut || !it.counted || slices.ContainsFunc(r.fastened, func(f *fastener) bool { return f.nut != "" && f.size() == it.m.size }) {
			continue
		}
		for _, f := range r.fastened {
			if f.size() == it.m.size && f.into == "" && f.insert == nil && f.nut == "" && f.total() == it.count {
				f.bolt = true
				f.nut = it.m.standard
				if f.nut == "" {
					f.nut = hardware.DefaultNut
				}
				break
			}
		}
	}
}

func (f *fastener) size() hardware.Size {
	if len(f.screws) == 0 {
		return ""
	}
	return f.screws[0].m.size
}

func (f *fastener) total() int {
	n := 0
	for _, s := range f.screws {
		n = max(n, s.count)
	}
	return n
}
