package check

import (
	"fmt"
	"math"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/hardware"
	"dropwright/bundle/unit"
)

// order: nothing is used before it exists, a fastener goes in when all it joins is there, nothing is shut in
// that a later step must reach, and the tools listed turn the screws used.
func order(in *Input, r *report) {
	d := in.Design
	for i, s := range d.Assembly {
		for _, a := range s.After {
			for k, t := range d.Assembly {
				if k >= i && t.Title.V == a.V && overlap(d, s.Only, t.Only) {
					r.add("step-order", a.At, "", fmt.Sprintf("step %d, %q, comes after step %d, %q, and stands before it", i+1, s.Title.V, k+1, t.Title.V), "move it behind that step")
				}
			}
		}
	}
	for _, v := range d.VariantNames() {
		o := &ordering{in: in, r: r, v: v, items: map[string]design.Item{}}
		items, _ := d.Tally(v)
		for _, it := range items {
			o.items[it.Name] = it
		}
		o.made()
		o.fasteners()
		o.covers()
		o.tools()
	}
}

func overlap(d *design.Design, a, b design.Only) bool {
	for _, v := range d.VariantNames() {
		if a.Has(v) && b.Has(v) {
			return true
		}
	}
	return false
}

type ordering struct {
	in    *Input
	r     *report
	v     string
	items map[string]design.Item
}

// first is the first step that uses an item; false when none does.
func (o *ordering) first(name string) (design.Use, bool) {
	it, ok := o.items[name]
	if !ok || len(it.UsedIn) == 0 {
		return design.Use{}, false
	}
	return it.UsedIn[0], true
}

// placed is the first step that brings a thing in, as drawn or mirrored; false when no step does.
func (o *ordering) placed(name string) (step int, ok bool) {
	for _, n := range []string{name, name + ".mirrored"} {
		if u, used := o.first(n); used && (!ok || u.Step < step) {
			step, ok = u.Step, true
		}
	}
	return step, ok
}

// made: sub-assemblies exist, in number, when they are used.
func (o *ordering) made() {
	for _, it := range o.in.Design.Assembly {
		name := string(it.Makes.V)
		m, ok := o.items[name]
		if !it.Makes.Set() || !ok || m.Kind != design.MadeItem || m.At != it.Makes.At {
			continue
		}
		for _, u := range m.UsedIn {
			made, used := 0.0, 0.0
			next := -1
			for k, s := range o.in.Design.Assembly {
				if string(s.Makes.V) == name && s.Only.Has(o.v) {
					if k < u.Step {
						made += float64(s.Repeats())
					} else if next < 0 {
						next = k
					}
				}
			}
			for _, w := range m.UsedIn {
				if w.Step <= u.Step {
					used += w.Count
				}
			}
			if used > made+1e-9 && next >= 0 {
				o.r.add("made-late", u.At, o.v, fmt.Sprintf("step %d uses %s of %s, and only %s are made by then; step %d makes it", u.Step+1, unit.Number(used), name, unit.Number(made), next+1), fmt.Sprintf("move step %d, %q, before step %d", next+1, o.in.Design.Assembly[next].Title.V, u.Step+1))
				break
			}
		}
	}
}

// fasteners: when a step puts one in, all it joins has been brought in by that step or an earlier one.
func (o *ordering) fasteners() {
	for i := range o.in.Design.Fasteners {
		f := &o.in.Design.Fasteners[i]
		name := string(f.Name.V)
		if !f.Only.Has(o.v) {
			continue
		}
		if u, ok := o.first(name); ok {
			var joins []design.Val[design.Name]
			joins = append(joins, f.Through...)
			if p := f.Into.Part(); p.Set() {
				joins = append(joins, p)
			}
			for _, j := range joins {
				if s, ok := o.placed(string(j.V)); ok && s > u.Step && !o.makesFor(s, u.Step) {
					o.early(name, u, string(j.V), s)
					break
				}
			}
		}
		for _, x := range f.Extras() {
			sub := name + "." + x.Suffix
			u, ok := o.first(sub)
			p := f.Into.Part()
			if !ok || x.Suffix == "washer" || !p.Set() || o.sameUse(name, u) {
				continue
			}
			if s, ok := o.placed(string(p.V)); ok && s > u.Step {
				o.early(sub, u, string(p.V), s)
			}
		}
	}
}

// makesFor tells that a step makes a sub-assembly which another step uses: made says that one comes too late.
func (o *ordering) makesFor(step, user int) bool {
	name := string(o.in.Design.Assembly[step].Makes.V)
	for _, u := range o.items[name].UsedIn {
		if name != "" && u.Step == user {
			return true
		}
	}
	return false
}

// sameUse tells that an item is taken with its fastener, not by its own name.
func (o *ordering) sameUse(fastener string, u design.Use) bool {
	f, ok := o.first(fastener)
	return ok && f.Step == u.Step && f.At == u.At
}

func (o *ordering) early(name string, u design.Use, what string, step int) {
	d := o.in.Design
	o.r.add("fastener-early", u.At, o.v, fmt.Sprintf("step %d, %q, puts %s in, and %s comes only in step %d, %q", u.Step+1, d.Assembly[u.Step].Title.V, name, what, step+1, d.Assembly[step].Title.V),
		fmt.Sprintf("use %s in step %d, or bring %s in earlier", name, step+1, what))
}

// covers: a part screwed on over holes that a later step uses. What is over a hole follows from the meshes:
// holes of the same part that open the same way, lie lower, and lie inside the outline of the cover's holes.
func (o *ordering) covers() {
	if o.in.Facts.Fit == nil {
		return
	}
	var joints []*facts.Joint
	for i := range o.in.Facts.Fit.Joints {
		if j := &o.in.Facts.Fit.Joints[i]; j.Variant == o.v {
			joints = append(joints, j)
		}
	}
	for _, cover := range joints {
		part := coverOf(cover)
		at, ok := o.first(cover.Fastener)
		if part == "" || !ok {
			continue
		}
		for _, inner := range joints {
			if inner == cover || len(inner.Members) == 0 || passes(inner, part) {
				continue
			}
			late, ok := o.last(inner)
			if !ok || late.Step <= at.Step {
				continue
			}
			deep, size, ok := below(last(cover), last(inner))
			if !ok {
				continue
			}
			o.r.add("cover-early", late.At, o.v, fmt.Sprintf("step %d closes %s with %s, and step %d must still reach %s, whose holes lie %s mm below it, inside the %s mm of its screws", at.Step+1, last(cover).Name, part, late.Step+1, inner.Fastener, mm(deep), size),
				fmt.Sprintf("move step %d, %q, before step %d", late.Step+1, o.in.Design.Assembly[late.Step].Title.V, at.Step+1))
		}
	}
}

// last is the member that holds a joint's thread.
func last(j *facts.Joint) *facts.Member { return &j.Members[len(j.Members)-1] }

// coverOf is the one printed part that a joint screws onto another, "" when it is no such joint.
func coverOf(j *facts.Joint) string {
	name := ""
	for _, m := range j.Members {
		if m.Index >= 0 && m.Kind == "part" {
			if name != "" {
				return ""
			}
			name = m.Name
		}
	}
	if name == "" || last(j).Kind != "part" || last(j).Name == name {
		return ""
	}
	return name
}

func passes(j *facts.Joint, part string) bool {
	for _, m := range j.Members {
		if m.Name == part {
			return true
		}
	}
	return false
}

// last is the last step that uses a joint's fastener, insert or nut.
func (o *ordering) last(j *facts.Joint) (use design.Use, ok bool) {
	for _, n := range []string{j.Fastener, j.Fastener + ".insert", j.Fastener + ".nut"} {
		for _, u := range o.items[n].UsedIn {
			if !ok || u.Step > use.Step {
				use, ok = u, true
			}
		}
	}
	return use, ok
}

// below tells whether the holes of inner lie below those of cover and inside the box around them, in one
// part: how deep, and how large the box is.
func below(cover, inner *facts.Member) (deep float64, size string, ok bool) {
	if cover.Kind != "part" || cover.Name != inner.Name || len(cover.Holes) < 3 || len(inner.Holes) == 0 {
		return 0, "", false
	}
	out := cover.Holes[0].Out
	axis := -1
	for k := range out {
		if math.Abs(out[k]) > 0.999 {
			axis = k
		}
	}
	if axis < 0 {
		return 0, "", false // a cover on a slope: not looked at
	}
	lo, hi := [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}, [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	level := math.Inf(1)
	for _, h := range cover.Holes {
		if h.Missing || h.Out != out {
			return 0, "", false
		}
		for k := range 3 {
			lo[k], hi[k] = min(lo[k], h.At[k]), max(hi[k], h.At[k])
		}
		level = min(level, h.At[axis]*out[axis])
	}
	deep = math.Inf(1)
	for _, h := range inner.Holes {
		if h.Missing || h.Out != out {
			return 0, "", false
		}
		for k := range 3 {
			if k != axis && (h.At[k] <= lo[k] || h.At[k] >= hi[k]) {
				return 0, "", false
			}
		}
		deep = min(deep, level-h.At[axis]*out[axis])
	}
	var sides []string
	for k := range 3 {
		if k != axis {
			sides = append(sides, mm(hi[k]-lo[k]))
		}
	}
	return deep, strings.Join(sides, " × "), deep > 1
}

// tools: a step that lists tools lists the one that turns its screws.
func (o *ordering) tools() {
	for _, s := range o.in.Design.Assembly {
		if !s.Only.Has(o.v) || len(s.Tools) == 0 {
			continue
		}
		for _, u := range s.Uses.Entries {
			f, ok := o.in.Design.Fastener(u.Key)
			if !ok || !f.Only.Has(o.v) || !f.Screw.Set() {
				continue
			}
			text, _ := f.Designation(o.v)
			d, err := hardware.ScrewDesignation(string(text.V), string(f.Head.V), string(f.Drive.V))
			if err != nil {
				continue
			}
			t, from, ok := hardware.Tool(d)
			if !ok || toolListed(s.Tools, t) {
				continue
			}
			o.r.add("tool-missing", s.Tools[0].At, o.v, fmt.Sprintf("step %q uses %s, which takes a %s%s; its tools are %s", s.Title.V, u.Key, t, weak(from.Caveat()), toolList(s.Tools)), "add "+t.String())
		}
	}
}

func toolList(tools []design.Val[design.Text]) string {
	var out []string
	for _, t := range tools {
		out = append(out, string(t.V))
	}
	return strings.Join(out, ", ")
}

// toolListed tells whether a list of tools in a maker's own words holds a driver. Words without a size ("hex
// keys", "cross-head screwdriver") cover all sizes of their kind.
func toolListed(tools []design.Val[design.Text], d hardware.Driver) bool {
	for _, t := range tools {
		w := strings.ToLower(string(t.V))
		switch d.Kind {
		case "hex key":
			if (strings.Contains(w, "hex") || strings.Contains(w, "key") || strings.Contains(w, "bit")) && sized(w, strings.TrimSuffix(d.Size, " mm")) {
				return true
			}
		case "screwdriver":
			if strings.Contains(w, "screwdriver") || strings.Contains(w, "bit") || strings.Contains(w, "driver") {
				size := strings.ToLower(d.Size)
				if other := driverSize(w); other == "" || other == size {
					return true
				}
			}
		case "spanner":
			if (strings.Contains(w, "spanner") || strings.Contains(w, "wrench")) && sized(w, strings.TrimSuffix(d.Size, " mm")) {
				return true
			}
		}
	}
	return false
}

// sized tells whether a text names a number, or none at all.
func sized(text, number string) bool {
	none := true
	for _, f := range strings.FieldsFunc(text, func(r rune) bool { return r != '.' && (r < '0' || r > '9') }) {
		none = false
		if f == number {
			return true
		}
	}
	return none
}

// driverSize is the size that a screwdriver's words name: "ph1", "t10", "slot"; "" for none.
func driverSize(text string) string {
	for _, f := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' || r == '-' || r == '/' }) {
		for _, p := range []string{"ph", "pz", "t"} {
			if n := strings.TrimPrefix(f, p); n != f && n != "" && strings.Trim(n, "0123456789") == "" {
				return f
			}
		}
		if strings.HasPrefix(f, "slot") || f == "flat" {
			return "slot"
		}
	}
	return ""
}
