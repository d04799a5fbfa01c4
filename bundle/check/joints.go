package check

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
	"dropwright/bundle/hardware"
)

// joints: every fastener is something that can be bought, its screw is long enough and not too long, and what
// could not be judged of it is said once.
func joints(in *Input, r *report) {
	var open []openJoint
	doubt := doubtful(in)
	for _, j := range jointsOf(in) {
		x := &jointRules{in: in, r: r, j: j, before: len(r.findings)}
		x.f, _ = in.Design.Fastener(j.Fastener)
		x.things()
		if why := slipped(in.Design, &x.f); why != "" {
			open = append(open, openJoint{x.f.Name.At, j.Variant, "joint " + j.Fastener + ": " + why})
			continue
		}
		if why := unbelieved(j, doubt); why != "" {
			open = append(open, openJoint{x.f.Name.At, j.Variant, why})
			continue
		}
		x.holes()
		x.head()
		x.length()
		if why := x.open(); why != "" {
			open = append(open, openJoint{x.f.Name.At, j.Variant, why})
			continue
		}
		if len(j.Unknown) == 0 {
			r.joints++
		}
	}
	notChecked(r, open)
	if in.Facts.Fit != nil {
		unlisted(in, r)
	}
}

// unbelieved says why a joint is not judged, "" when it is: one wrong mesh must not make the others look wrong.
func unbelieved(j *facts.Joint, doubt map[string]string) string {
	for _, m := range j.Members {
		if why := doubt[m.File]; m.File != "" && why != "" {
			return "joint " + j.Fastener + ": " + why
		}
	}
	return ""
}

// jointsOf is the joints measured; for facts without any, one for each fastener with the reason.
func jointsOf(in *Input) []*facts.Joint {
	var out []*facts.Joint
	if in.Facts.Fit != nil {
		for i := range in.Facts.Fit.Joints {
			out = append(out, &in.Facts.Fit.Joints[i])
		}
		return out
	}
	for _, f := range in.Design.Fasteners {
		for _, v := range in.Design.VariantNames() {
			if f.Only.Has(v) {
				out = append(out, &facts.Joint{Fastener: string(f.Name.V), Variant: v, Unknown: []facts.Unknown{{Topic: "holes", Text: "the meshes were not measured for holes"}}})
			}
		}
	}
	return out
}

type jointRules struct {
	in     *Input
	r      *report
	j      *facts.Joint
	f      design.Fastener
	before int      // findings of other rules and joints
	extra  []string // what could not be judged, beside what fit says
}

func (x *jointRules) add(code string, at finding.Place, text, hint string) {
	x.r.add(code, at, x.j.Variant, text, hint)
}

// at is where the manifest names a member.
func (x *jointRules) at(m *facts.Member) finding.Place {
	if m.Index >= 0 && m.Index < len(x.f.Through) {
		return x.f.Through[m.Index].At
	}
	if p := x.f.Into.Part(); p.Set() {
		return p.At
	}
	if x.f.Into.Set() {
		return x.f.Into.At
	}
	return x.f.Name.At
}

// thingAt is where the designation stands.
func (x *jointRules) thingAt() finding.Place {
	if d, ok := x.f.Designation(x.j.Variant); ok && d.At.Known() {
		return d.At
	}
	return x.f.Name.At
}

// short is the screw as people say it: "M3x8".
func (x *jointRules) short() string { return x.j.Size + "x" + mm(x.j.Length) }

// mm prints a figure of a hole or screw to a hundredth of a millimetre, without the unit.
func mm(v float64) string {
	s := fmt.Sprintf("%.2f", v)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// things: the designation is understood, made, and of the thread of its counterpart.
func (x *jointRules) things() {
	for _, u := range x.j.Unknown {
		switch u.Topic {
		case "fastener":
			x.add("screw-unknown", x.thingAt(), x.j.Fastener+": "+u.Text, "write it as M3x16 with head: socket, or in full: ISO 4762 - M3 x 16; `dropwright hardware M3` prints what the tables know")
		case "thread":
			x.add("thread-differs", x.at(&facts.Member{Index: -1}), x.j.Fastener+": "+u.Text, "mend the screw or what it goes into")
		}
	}
	size := hardware.Size(x.j.Size)
	if x.j.Thing == "" {
		return
	}
	if x.j.Standard == "" {
		if c, ok := hardware.CheckStandoff(size, x.j.Length); ok && !c.Made {
			x.unmade(c, size)
		}
		return
	}
	if c, ok := hardware.CheckLength(x.j.Standard, size, x.j.Length); ok && !c.Made {
		x.unmade(c, size)
	}
	if t, ok := hardware.TwinOf(x.j.Standard, size); ok {
		x.add("standard-withdrawn", x.thingAt(), fmt.Sprintf("%s: %s", x.j.Fastener, t), "write "+t.ISO+" where its figures suit")
	}
}

func (x *jointRules) unmade(c hardware.LengthCheck, size hardware.Size) {
	hint := "`dropwright hardware " + x.j.Size + "` prints the lengths that are made"
	if n := c.Neighbours(size); n != "" {
		hint = "write " + n
	}
	x.add("screw-unmade", x.thingAt(), fmt.Sprintf("%s: %s: %s", x.j.Fastener, x.short(), c.Reason)+weak(c.Caveat()), hint)
}

// weak puts a caveat behind a figure.
func weak(caveat string) string {
	if caveat == "" {
		return ""
	}
	return " (" + caveat + ")"
}

// lengthSlack forgives the rounding of meshes and sums: a hundredth of a millimetre.
const lengthSlack = 0.01

// length: enough thread bites, and the tip has room.
func (x *jointRules) length() {
	if len(x.j.Screws) == 0 {
		return
	}
	short := slices.MinFunc(x.j.Screws, func(a, b facts.Screw) int { return cmp.Compare(a.Bites-a.Needs, b.Bites-b.Needs) })
	if short.Bites < short.Needs-lengthSlack {
		x.add("screw-short", x.thingAt(), fmt.Sprintf("%s: %s leaves %s mm %s, needs %s mm%s; it clamps %s mm%s", x.j.Fastener, x.short(),
			mm(short.Bites), x.inWhat(), mm(short.Needs), x.basis(), mm(short.Clamped), x.stack()), x.lengthHint())
	}
	if l := x.j.Fits; l != nil && l.Open && x.j.Length > l.Max+lengthSlack && len(l.Made) > 0 {
		x.add("screw-proud", x.thingAt(), fmt.Sprintf("%s: %s clamps %s mm%s and comes out behind by %s mm", x.j.Fastener, x.short(), mm(short.Clamped), x.stack(), mm(short.Reach-short.Bites)), x.lengthHint())
	}
	over := func(s facts.Screw) float64 {
		if s.Room == 0 {
			return -1e9
		}
		return s.Reach - s.Room
	}
	long := slices.MaxFunc(x.j.Screws, func(a, b facts.Screw) int { return cmp.Compare(over(a), over(b)) })
	if over(long) > lengthSlack {
		what := "the floor of its hole"
		if x.j.Into == "standoff" {
			what = "the end of the thread or the screw from the other side"
		}
		x.add("screw-long", x.thingAt(), fmt.Sprintf("%s: %s reaches %s mm past the %s mm it clamps%s and meets %s at %s mm", x.j.Fastener, x.short(),
			mm(long.Reach), mm(long.Clamped), x.stack(), what, mm(long.Room)), x.lengthHint())
	}
}

func (x *jointRules) inWhat() string {
	switch x.j.Into {
	case "plastic":
		return "in the plastic"
	case "insert":
		return "in the insert"
	case "nut":
		return "in the nut"
	}
	return "in the thread"
}

// basis says where the least engagement is from.
func (x *jointRules) basis() string {
	size := hardware.Size(x.j.Size)
	into := map[string]hardware.Into{"plastic": hardware.IntoPlastic, "insert": hardware.IntoInsert, "thread": hardware.IntoSteel, "standoff": hardware.IntoInsert}[x.j.Into]
	if x.j.Into == "nut" {
		return " (the nut's whole height)"
	}
	if e, ok := hardware.MinEngagement(into, size); ok {
		text := e.Basis
		if c := e.Caveat(); c != "" {
			text += ", " + c
		}
		return " (" + text + ")"
	}
	return ""
}

// stack lists what is clamped: " (window 2.5, washer 0.5)".
func (x *jointRules) stack() string {
	var out []string
	for _, m := range x.j.Members {
		if m.Thickness != nil {
			out = append(out, fmt.Sprintf("%s %s", m.Name, mm(*m.Thickness)))
		}
	}
	if len(out) == 0 {
		return ""
	}
	return " (" + strings.Join(out, ", ") + ")"
}

// lengthHint names the lengths that fit.
func (x *jointRules) lengthHint() string {
	l := x.j.Fits
	if l == nil {
		return "choose the thread length and the hole so that enough of it holds and its end stays free"
	}
	end := ""
	if !l.Open {
		end = fmt.Sprintf("; past %s mm it bottoms", mm(l.Max))
	}
	switch n := len(l.Made); {
	case n == 0 && l.Min > l.Max:
		return fmt.Sprintf("no length can fit: at least %s mm are needed and the hole ends at %s mm; deepen it", mm(l.Min), mm(l.Max))
	case n == 0:
		return fmt.Sprintf("no length that is made lies between %s mm and %s mm: change what is clamped, or the hole's depth", mm(l.Min), mm(l.Max))
	case n == 1:
		return fmt.Sprintf("write %sx%s, the one that fits%s", x.j.Size, mm(l.Made[0]), end)
	default:
		return fmt.Sprintf("write %sx%s; up to %sx%s fits%s", x.j.Size, mm(l.Made[0]), x.j.Size, mm(l.Made[n-1]), end)
	}
}

// open says what of a joint could not be judged, "" when all was.
func (x *jointRules) open() string {
	why := slices.Clone(x.extra)
	for _, u := range x.j.Unknown {
		if u.Topic == "length" || u.Topic == "holes" {
			why = append(why, u.Text)
		}
	}
	if len(why) > 0 {
		return strings.Join(why, "; ")
	}
	if len(x.j.Screws) == 0 && len(x.r.findings) == x.before {
		return "its length: no figures"
	}
	return ""
}

type openJoint struct {
	at      finding.Place
	variant string
	why     string
}

// notChecked says each open joint once: variants that share the reason share the line.
func notChecked(r *report, open []openJoint) {
	done := make([]bool, len(open))
	for i, o := range open {
		if done[i] {
			continue
		}
		n := 0
		for k := i; k < len(open); k++ {
			if open[k].at == o.at && open[k].why == o.why {
				done[k] = true
				n++
			}
		}
		v := o.variant
		if n > 1 || len(r.variants) == 1 {
			v = ""
		}
		r.unknown(o.at, v, o.why)
	}
}

// unlisted: patterns of holes that two parts share and no fastener uses.
func unlisted(in *Input, r *report) {
	doubt := doubtful(in)
	for _, u := range in.Facts.Fit.Unlisted {
		p, _ := in.Design.Part(u.Into)
		q, _ := in.Design.Part(u.Through)
		if f, _ := p.Mesh.For(u.Variant); doubt[string(f.V)] != "" {
			continue
		}
		if f, _ := q.Mesh.For(u.Variant); doubt[string(f.V)] != "" {
			continue
		}
		if u.Fastener != "" {
			holesUnused(in, r, u)
			continue
		}
		what := map[string]string{"insert": "inserts", "nut": "nut pockets", "thread": "screws that cut their thread"}[u.Role]
		r.add("joint-unlisted", p.Name.At, u.Variant, fmt.Sprintf("%s and %s share %d holes that look made for %s (%s mm in %s, for %s of %s mm in %s), and no fastener uses them",
			u.Through, u.Into, u.Count, u.Size, mm(u.Clearance), u.Through, what, mm(u.Diameter), u.Into),
			fmt.Sprintf("add a fastener: {name: …, screw: %sx…, count: %d, through: [%s], into: %s}", u.Size, u.Count, u.Through, u.Into))
	}
}

// holesUnused: a fastener's own pattern has more holes than the list has screws. Where the steps use as many as there
// are holes, the list alone is wrong, and counts says so.
func holesUnused(in *Input, r *report, u facts.Unlisted) {
	f, _ := in.Design.Fastener(u.Fastener)
	items, _ := in.Design.Tally(u.Variant)
	for _, it := range items {
		if it.Name == u.Fastener && it.Used-it.Listed == float64(u.Holes-u.Listed) {
			return
		}
	}
	at := f.Count.At
	if !at.Known() {
		at = f.Name.At
	}
	pairs := ""
	if u.Copies > 1 {
		pairs = fmt.Sprintf(" (%d times %d)", u.Copies, u.Holes/u.Copies)
	}
	r.add("hole-unused", at, u.Variant, fmt.Sprintf("%s: %s and %s share %d holes%s for %s in one pattern (%s mm in %s, %s mm in %s), and the list has %d", u.Fastener,
		u.Through, u.Into, u.Holes, pairs, u.Size, mm(u.Clearance), u.Through, mm(u.Diameter), u.Into, u.Listed),
		fmt.Sprintf("write count: %d, and use as many in the steps; or take it as it is where holes stay free on purpose", u.Holes))
}
