package fit

import (
	"math"

	"dropwright/bundle/facts"
	"dropwright/bundle/hardware"
)

// reach is one screw in its joint before a length is chosen.
type reach struct {
	grip   float64 // from the seat of the head (countersunk: from the level of its top face) to the face it goes into
	mouth  float64 // beyond that face before the thread begins
	thread float64 // how much thread there is to bite into; infinite when it does not end
	needs  float64 // least that must bite
	room   float64 // from the face to where the tip meets something; infinite when nothing is there
}

// standOut is how far a screw may come out behind what it goes into when nothing stops it and a longer one
// is suggested, in screw diameters. Common practice, no source.
const standOut = 1.0

// lengths works out clamped thickness, bite and the interval of lengths of a joint.
func (j *joint) lengths(all []*joint) {
	if j.fact.Thing == "" || len(j.parts) == 0 {
		return
	}
	if j.d.Kind != hardware.KindScrew {
		j.standoff()
		return
	}
	j.thickness()
	if !j.sure() {
		return
	}
	var list []reach
	for s := range j.fact.Count {
		if r, ok := j.reachOf(s, all); ok {
			list = append(list, r)
		}
	}
	if len(list) == 0 {
		return
	}
	fits := facts.Lengths{Min: 0, Max: math.Inf(1)}
	size := j.d.Size.Nominal()
	for _, r := range list {
		tip := j.d.Length - r.grip
		bites := max(0, min(tip-r.mouth, r.thread))
		fs := facts.Screw{Clamped: round3(r.grip), Reach: round3(tip), Bites: round3(bites), Needs: round3(r.needs)}
		fits.Min = max(fits.Min, r.grip+r.mouth+r.needs)
		if !math.IsInf(r.room, 1) {
			fs.Room = round3(r.room)
			fits.Max = min(fits.Max, r.grip+r.room)
		}
		j.fact.Screws = append(j.fact.Screws, fs)
	}
	if math.IsInf(fits.Max, 1) {
		fits.Open = true
		for _, r := range list {
			end := r.thread
			if math.IsInf(end, 1) {
				end = r.needs
			}
			fits.Max = min(fits.Max, r.grip+r.mouth+end+standOut*size)
		}
	}
	fits.Made = []float64{}
	made, _ := hardware.MadeLengths(j.d.Standard, j.d.Size)
	for _, l := range made {
		// A screw may be a little longer than its name; against a floor that counts.
		longer := 0.0
		if !fits.Open {
			longer, _, _ = hardware.LengthTolerance(l)
		}
		if l >= fits.Min-1e-9 && l+longer <= fits.Max+1e-9 {
			fits.Made = append(fits.Made, l)
		}
	}
	fits.Min, fits.Max = round3(fits.Min), round3(fits.Max)
	j.fact.Fits = &fits
}

// thickness fills what is clamped of each member, where it is one figure.
func (j *joint) thickness() {
	for i, m := range j.parts {
		if m.fact.Index < 0 && m.fact.Role != string(Nut) {
			continue
		}
		first, same := 0.0, true
		n := 0
		for s := range j.fact.Count {
			t, ok := j.clamped(i, s)
			if !ok {
				continue
			}
			if n++; n == 1 {
				first = t
			} else if diff(first, t) {
				same = false
			}
		}
		if n > 0 && same {
			t := round3(first)
			m.fact.Thickness = &t
		}
	}
}

// sure tells whether every member's share in the length is known, and says once what is not.
func (j *joint) sure() bool {
	ok := true
	for _, m := range j.parts {
		if m.note != "" && !m.known && m.fact.Kind != "nut" && (m.shape == nil || m.fact.Kind != "part") {
			j.unknown("length", "%s: %s", m.fact.Name, m.note)
			ok = false
		}
	}
	return ok && j.f.Into.Set() && len(j.parts) > 0
}

// clamped is how much of member i screw s clamps.
func (j *joint) clamped(i, s int) (mm float64, ok bool) {
	m := j.parts[i]
	if m.fact.Kind != "part" {
		return m.thick, m.known
	}
	if m.shape == nil || m.use[s] < 0 {
		return 0, false
	}
	h := &m.fact.Holes[s]
	if h.Low > seatPlay {
		return 0, false
	}
	if m.fact.Role == string(Nut) {
		if h.Round == nil || m.oddPocket(s) {
			return 0, false // the pocket itself is wrong: judged by itself
		}
		return h.Round.Depth - j.sunk(i, h.Round), true
	}
	return h.Depth - j.sunk(i, h), true
}

// oddPocket tells whether the pocket of screw s is too shallow for the nut while others of the joint are deep
// enough: a mistake of that one pocket, from which nothing follows for the length of the screws.
func (m *member) oddPocket(s int) bool {
	deep := false
	for _, h := range m.fact.Holes {
		deep = deep || !h.Missing && h.Depth >= m.fact.NeedDepth-shallowSlack
	}
	return deep && m.fact.Holes[s].Depth < m.fact.NeedDepth-shallowSlack
}

// shallowSlack forgives the rounding of a pocket's depth.
const shallowSlack = 0.05 // mm

// sunk is how deep the seat of the head lies in a member's sink: 0 without a sink, and for members that the
// head does not touch. For a countersunk head, whose length counts from its top face, it is how deep the top
// face lies below the surface; negative when it stands out.
func (j *joint) sunk(i int, h *facts.FitHole) float64 {
	if i != 0 || h.Sink == nil {
		return 0
	}
	if j.screw.Standard.IncludesHead {
		if h.Sink.Kind != "countersink" || j.screw.HeadDiameter == 0 {
			return 0
		}
		// The cone of the head and that of the sink have 90 degrees: half of the difference of the
		// diameters is the depth.
		return min(h.Sink.Depth, (h.Sink.Diameter-j.screw.HeadDiameter)/2)
	}
	if h.Sink.Kind != "counterbore" {
		return 0
	}
	return h.Sink.Depth
}

// reachOf adds up what screw s passes and finds what it bites into; false when a hole is missing or wrong.
func (j *joint) reachOf(s int, all []*joint) (r reach, ok bool) {
	for i, m := range j.parts {
		if m.fact.Index < 0 && m.fact.Role != string(Nut) {
			continue
		}
		t, ok := j.clamped(i, s)
		if !ok {
			return r, false
		}
		r.grip += t
	}
	r.thread, r.room = math.Inf(1), math.Inf(1)
	last := j.parts[len(j.parts)-1]
	switch j.fact.Into {
	case "plastic", "insert":
		if last.shape == nil || last.use[s] < 0 || last.fact.Holes[s].Low > seatPlay {
			return r, false
		}
		c := &last.cands[last.use[s]]
		if c.blind > 0 {
			r.room = c.blind
		}
		if j.fact.Into == "plastic" {
			e, ok := hardware.MinEngagement(hardware.IntoPlastic, j.d.Size)
			h := &last.shape.Holes[c.hole]
			r.thread, r.needs = h.Depth-c.mouth, e.Least
			// A wider mouth counts at the end where the screw comes in; at the other end only the thread is shorter.
			if k, has := h.Sink(); has && k.AtTo == (dot(last.fact.Holes[s].Out, h.Axis) > 0) {
				r.mouth = c.mouth
			}
			return r, ok
		}
		e, ok := hardware.MinEngagement(hardware.IntoInsert, j.d.Size)
		r.needs, r.thread = e.Least, last.want.length
		if r.thread > 0 {
			r.needs = min(r.needs, r.thread) // a short insert cannot give more than it has
		} else {
			r.thread = math.Inf(1)
		}
		return r, ok
	case "nut":
		n := j.nut()
		e, ok := hardware.NutEngagement(n)
		r.needs, r.thread = e.Least, n.Height
		return r, ok && n.Height > 0
	case "thread":
		e, ok := hardware.MinEngagement(hardware.IntoSteel, j.d.Size)
		r.needs, r.thread, r.room = min(e.Least, last.thick), last.thick, last.thick
		return r, ok && last.known && last.thick > 0
	case "standoff":
		e, ok := hardware.MinEngagement(hardware.IntoInsert, j.d.Size)
		r.needs, r.thread, r.room = min(e.Least, last.thick), last.thick, last.thick
		for _, other := range all { // a screw from the other end takes its part of the bore
			if other != j && other.fact.Into == "standoff" && other.parts[len(other.parts)-1].fact.Name == last.fact.Name {
				if o, known := other.tipIn(s); known {
					r.room = max(0, last.thick-o)
				}
			}
		}
		return r, ok && last.known
	}
	return r, false
}

// tipIn is how far screw s of a joint reaches into what it goes into.
func (j *joint) tipIn(s int) (mm float64, ok bool) {
	if s >= j.fact.Count {
		return 0, false
	}
	grip := 0.0
	for i, m := range j.parts {
		if m.fact.Index < 0 {
			continue
		}
		t, ok := j.clamped(i, s)
		if !ok {
			return 0, false
		}
		grip += t
	}
	return max(0, j.d.Length-grip), true
}

func (j *joint) nut() hardware.Nut {
	for _, m := range j.parts {
		if m.want.nut.Height > 0 {
			return m.want.nut
		}
	}
	return hardware.Nut{}
}

// standoff judges the male end of a standoff that goes into a part; one with two female ends needs a screw
// from the other side, which is a joint of its own.
func (j *joint) standoff() {
	j.thickness()
	t, ok := hardware.StandoffOf(j.d.Size)
	if j.d.Ends == "female-female" || j.d.Ends == "" {
		j.unknown("length", "a standoff with two female ends holds in %s only by a screw of its own: write that screw as a fastener into: %s", j.f.Into.Part().V, j.fact.Fastener)
		return
	}
	if !ok || t.ThreadLength == 0 {
		j.unknown("length", "the tables know no thread length for standoffs of %s", j.d.Size)
		return
	}
	if !j.sure() {
		return
	}
	for s := range j.fact.Count {
		r, ok := j.reachOf(s, nil)
		if !ok {
			continue
		}
		tip := t.ThreadLength - r.grip
		fs := facts.Screw{Clamped: round3(r.grip), Reach: round3(tip), Bites: round3(max(0, min(tip-r.mouth, r.thread))), Needs: round3(r.needs)}
		if !math.IsInf(r.room, 1) {
			fs.Room = round3(r.room)
		}
		j.fact.Screws = append(j.fact.Screws, fs)
	}
}
