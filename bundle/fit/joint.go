package fit

import (
	"fmt"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/hardware"
)

// joint is one fastener in one variant while it is worked out.
type joint struct {
	w      *worker
	f      *design.Fastener
	v      string
	d      hardware.Designation
	screw  hardware.Screw
	known  bool // screw's figures are in the tables
	parts  []*member
	laidOn int // the member whose holes the others were laid upon
	fact   facts.Joint
}

// member is one thing the fastener passes or goes into.
type member struct {
	fact   facts.Member
	want   want
	shape  *Shape
	cands  []candidate
	sides  []side
	fixed  bool            // a board's mounts or a fan's corners: sides holds them
	given  []hardSpot      // of fixed patterns
	thick  float64         // mm, of what is not printed
	known  bool            // thick is known
	unlike bool            // its holes lie in another pattern than those of laidOn
	use    []int           // candidate for each screw, -1: missing
	place  []facts.FitHole // extra knowledge per screw: low, off, place of missing
	note   string          // why its thickness is not known, what to write
}

// hardSpot is a hole of a board or bought part.
type hardSpot struct {
	at   [2]float64
	hole float64 // diameter, 0 unknown
}

// mostScrews bounds the work for one entry of the list: larger prints have a few dozen screws, and a typing
// mistake may have a million.
const mostScrews = 500

// mostAlike bounds the comparison of each hole with each.
const mostAlike = 1000

func (j *joint) unknown(topic, format string, a ...any) {
	j.fact.Unknown = append(j.fact.Unknown, facts.Unknown{Topic: topic, Text: fmt.Sprintf(format, a...)})
}

// joint reads what a fastener entry says and gathers the holes that may serve it.
func (w *worker) joint(f *design.Fastener, v string) *joint {
	j := &joint{w: w, f: f, v: v}
	j.fact = facts.Joint{Fastener: string(f.Name.V), Variant: v, Count: f.CountOf(v), Members: []facts.Member{}, Screws: []facts.Screw{}}
	if !j.name() {
		return j
	}
	if j.fact.Count > mostScrews {
		j.unknown("holes", "%d screws of one entry are not looked at one by one; %d would be", j.fact.Count, mostScrews)
		return j
	}
	for i, t := range f.Through {
		j.pass(i, string(t.V))
	}
	j.into()
	return j
}

// name reads the designation; false when it cannot be understood, which is said.
func (j *joint) name() bool {
	text, ok := j.f.Designation(j.v)
	if !ok {
		j.unknown("fastener", "no screw is given for this variant")
		return false
	}
	var err error
	if j.f.Screw.Set() {
		j.d, err = hardware.ScrewDesignation(string(text.V), string(j.f.Head.V), string(j.f.Drive.V))
	} else {
		j.d, err = StandoffOf(string(text.V), string(j.f.Ends.V))
	}
	if err != nil {
		j.unknown("fastener", "%v", err)
		return false
	}
	j.fact.Thing, j.fact.Standard, j.fact.Size, j.fact.Length = j.d.String(), j.d.Standard, string(j.d.Size), j.d.Length
	j.screw, j.known = hardware.ScrewOf(j.d.Standard, j.d.Size)
	return true
}

// StandoffOf reads a standoff as a manifest writes it: "M2.5x10", or a full designation, with its ends.
func StandoffOf(text, ends string) (hardware.Designation, error) {
	t := strings.TrimSpace(text)
	if !strings.HasPrefix(strings.ToLower(t), "standoff") {
		t = "standoff " + t
	}
	d, err := hardware.ParseDesignation(t)
	if err != nil {
		return d, err
	}
	if ends != "" {
		if d.Ends, err = hardware.ParseEnds(ends); err != nil {
			return d, err
		}
	}
	return d, nil
}

// pass adds what stands at one place of `through`.
func (j *joint) pass(i int, name string) {
	m := &member{fact: facts.Member{Name: name, Index: i}}
	j.parts = append(j.parts, m)
	if name == design.Washer {
		m.fact.Kind = "washer"
		d := hardware.WasherDesignation(j.d.Size)
		if wa, ok := hardware.WasherOf(d.Standard, d.Size); ok {
			m.thick, m.known = wa.Thickness, true
		} else {
			m.note = "the tables know no washer of " + string(j.d.Size)
		}
		return
	}
	if p, ok := j.w.Design.Part(name); ok && p.Only.Has(j.v) {
		role := Clearance
		if j.nutIn() == name {
			role = Nut // the hole that leads to the pocket: one feature of the part, seen once
		}
		j.printed(m, p, role)
		return
	}
	for _, b := range j.boards() {
		if string(b.Name.V) == name {
			j.board(m, string(b.Profile.V))
			return
		}
	}
	if b, ok := j.w.Design.BoughtPart(name); ok {
		m.fact.Kind = "bought"
		m.thick, m.known = float64(b.Thickness.V), b.Thickness.Set()
		m.note = "its thickness is not stated: write thickness: in its entry"
		j.fan(m, b)
		return
	}
	m.fact.Kind = "unknown"
	m.note = "it is not listed for this variant"
}

func (j *joint) boards() []design.BoardUse {
	v, _ := j.w.Design.Variant(j.v)
	return v.BoardList()
}

// nutIn is the part that holds the nut of the joint, "" when there is none or it is loose.
func (j *joint) nutIn() string {
	if h := j.f.Into.Held; h != nil && h.Nut.Set() {
		return string(h.In.V)
	}
	return ""
}

// printed adds a printed part's holes for a role.
func (j *joint) printed(m *member, p design.Part, role Role) {
	m.fact.Kind, m.fact.Role = "part", string(role)
	drawn, mirrored := p.CopiesOf(j.v)
	m.fact.Copies = max(1, drawn+mirrored)
	file, ok := p.Mesh.For(j.v)
	if !ok {
		m.note = "it has no mesh in this variant"
		return
	}
	m.fact.File = string(file.V)
	m.want = want{role: role, size: j.d.Size, allowance: j.w.allowance(p)}
	m.fact.Allowance = round3(m.want.allowance)
	if h := j.f.Into.Held; h != nil {
		if role == Insert && h.Insert != nil {
			m.want.outer, m.want.length = float64(h.Insert.Outer.V), float64(h.Insert.Length.V)
		}
		if role == Nut {
			if d, err := hardware.NutDesignation(string(h.Nut.V), j.d.Size); err == nil {
				m.want.nut, _ = hardware.NutOf(d.Standard, d.Size)
			} else {
				j.unknown("fastener", "%v", err)
			}
		}
	}
	if !m.want.prepare() {
		m.note = fmt.Sprintf("the tables know no %s hole for %s", role, j.d.Size)
		return
	}
	m.fact.Allowed = m.want.allowed.fact()
	if role == Nut {
		m.fact.Clears = m.want.clears.fact()
		m.fact.NeedDepth = round3(m.want.nut.Height)
	}
	if role == Insert {
		m.fact.NeedDepth, m.fact.NeedWall, m.fact.WallCaveat = round3(m.want.need.Depth), round3(m.want.need.Wall), m.want.need.Walls.Caveat()
	}
	if role == Thread {
		outer, from := hardware.PlasticBoss(j.d.Size)
		m.fact.NeedBoss, m.fact.WallCaveat = round3(outer), from.Caveat()
	}
	m.shape = j.w.Shapes[m.fact.File]
	if m.shape == nil {
		m.note = fmt.Sprintf("the holes of %s could not be measured", m.fact.File)
		return
	}
	m.cands = m.want.candidates(m.shape)
	if len(m.cands) <= mostAlike {
		markAlike(m.cands, share(j.fact.Count, m.fact.Copies))
	}
	m.sides = sidesOf(m.cands, role == Thread || role == Insert)
}

// board adds a board's mounts as a fixed pattern, and its thickness.
func (j *joint) board(m *member, id string) {
	m.fact.Kind = "board"
	p := j.w.profile(id)
	if p == nil {
		m.note = fmt.Sprintf("the profile %s cannot be read", id)
		return
	}
	m.thick, m.known = p.Outline.Thickness.MM, p.Outline.Thickness.Given
	m.note = fmt.Sprintf("the profile %s gives no thickness", id)
	for _, k := range p.Mounts {
		if k.X.Given && k.Y.Given {
			m.given = append(m.given, hardSpot{[2]float64{k.X.MM, k.Y.MM}, k.Hole.MM})
		}
	}
	m.pin()
}

// fan adds the corners of a fan's frame where its size says which fan it is.
func (j *joint) fan(m *member, b design.Bought) {
	s := b.Size
	if !strings.Contains(strings.ToLower(string(b.Name.V)+" "+string(b.What.V)), "fan") || !s.Length.Set() || s.Length.V != s.Width.V {
		return
	}
	f, ok := hardware.FanOf(float64(s.Length.V))
	if !ok || f.Pitch == 0 || j.fact.Count > 4 {
		return
	}
	h := f.Pitch / 2
	for _, c := range [][2]float64{{-h, -h}, {h, -h}, {h, h}, {-h, h}} {
		m.given = append(m.given, hardSpot{c, f.Hole})
	}
	m.pin()
}

func (m *member) pin() {
	if len(m.given) == 0 {
		return
	}
	m.fixed = true
	s := side{out: [3]float64{0, 0, -1}}
	for i, g := range m.given {
		s.spots = append(s.spots, spot{cand: i, at: g.at, score: 1})
	}
	m.sides = []side{s}
}

// into adds what the thread goes into.
func (j *joint) into() {
	in := j.f.Into
	if !in.Set() {
		j.unknown("length", "what it goes into is not said: write into:")
		return
	}
	m := &member{fact: facts.Member{Index: -1}}
	if h := in.Held; h != nil {
		part, listed := j.w.Design.Part(string(h.In.V))
		switch {
		case h.Insert != nil:
			j.fact.Into = "insert"
			if size, err := hardware.ParseSize(string(h.Insert.Thread.V)); err != nil {
				j.unknown("fastener", "the thread of the insert: %v", err)
			} else if size != j.d.Size {
				j.unknown("thread", "the insert has the thread %s, the screw is %s", size, j.d.Size)
			}
			if !listed {
				j.unknown("holes", "which part holds the insert is not said: write in:")
				return
			}
			m.fact.Name = string(h.In.V)
			j.parts = append(j.parts, m)
			j.printed(m, part, Insert)
		case h.Nut.Set():
			j.fact.Into = "nut"
			d, err := hardware.NutDesignation(string(h.Nut.V), j.d.Size)
			if err != nil {
				j.unknown("fastener", "%v", err)
				return
			}
			n, known := hardware.NutOf(d.Standard, d.Size)
			if !known {
				j.unknown("length", "the tables know no %s", d)
			}
			if !listed { // loose behind
				m.fact.Name, m.fact.Kind, m.want.nut = "nut", "nut", n
				j.parts = append(j.parts, m)
				return
			}
			for _, p := range j.parts {
				if p.fact.Role == string(Nut) {
					return // it is one of those passed through
				}
			}
			m.fact.Name = string(h.In.V)
			j.parts = append(j.parts, m)
			j.printed(m, part, Nut)
		}
		return
	}
	name := string(in.Target.V)
	m.fact.Name = name
	j.parts = append(j.parts, m)
	if p, ok := j.w.Design.Part(name); ok {
		j.fact.Into = "plastic"
		j.printed(m, p, Thread)
		return
	}
	if b, ok := j.w.Design.BoughtPart(name); ok {
		j.fact.Into, m.fact.Kind = "thread", "bought"
		depth, ok := b.Threads.Get(string(j.d.Size))
		m.thick, m.known = float64(depth.V), ok
		switch {
		case ok:
		case len(b.Threads.Entries) > 0:
			j.unknown("thread", "%s has the threads %s, the screw is %s", name, strings.Join(b.Threads.Keys(), ", "), j.d.Size)
		default:
			m.note = fmt.Sprintf("the depth of its thread is not stated: write threads: {%s: …} in its entry", j.d.Size)
		}
		return
	}
	if f, ok := j.w.Design.Fastener(name); ok && f.Standoff.Set() {
		j.fact.Into, m.fact.Kind = "standoff", "standoff"
		text, _ := f.Standoff.For(j.v)
		if d, err := StandoffOf(string(text.V), string(f.Ends.V)); err != nil {
			m.note = err.Error()
		} else if d.Size != j.d.Size {
			j.unknown("thread", "%s has the thread %s, the screw is %s", name, d.Size, j.d.Size)
		} else {
			m.thick, m.known = d.Length, true
		}
		return
	}
	m.fact.Kind = "unknown"
	m.note = "it is not listed"
}
