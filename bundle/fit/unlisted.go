package fit

import (
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/hardware"
)

// leastUnlisted is the smallest pattern that is taken for a joint nobody listed: two or fewer holes lie alike
// in any two parts by chance. Our own choice.
const leastUnlisted = 3

// unlisted looks for patterns of free holes that two parts of a variant share, clearance holes in one and
// holes for a thread, an insert or a nut of the same size in the other: a joint whose fastener is missing.
func (w *worker) unlisted(v string, joints []*joint) []facts.Unlisted {
	used := usedHoles(joints)
	var parts []design.Part
	for _, p := range w.Design.PartsOf(v) {
		if p.Role.V == "" || p.Role.V == "part" {
			parts = append(parts, p)
		}
	}
	// The holes of each part for each role, once: a part meets every other one.
	sides := map[string][]side{}
	cands := map[string][]candidate{}
	look := func(p design.Part, role Role, size hardware.Size) ([]candidate, []side) {
		file, _ := p.Mesh.For(v)
		s := w.Shapes[string(file.V)]
		key := string(file.V) + "\x00" + string(role) + "\x00" + string(size)
		if x, ok := sides[key]; ok || s == nil {
			return cands[key], x
		}
		q := want{role: role, size: size, allowance: w.allowance(p)}
		if role == Nut {
			q.nut, _ = hardware.NutOf(hardware.DefaultNut, size)
		}
		var list []candidate
		if q.prepare() {
			for _, c := range q.candidates(s) {
				if c.score == 1 && !used[string(file.V)][c.hole] {
					list = append(list, c)
				}
			}
		}
		cands[key], sides[key] = list, sidesOf(list, role != Clearance)
		return list, sides[key]
	}
	out := w.spare(v, joints)
	for a := range parts {
		for b := range parts {
			if a == b || unclear(joints, parts[a], parts[b]) {
				continue
			}
			if u, ok := unlistedPair(parts[a], parts[b], look); ok && !told(out, u) {
				u.Variant = v
				out = append(out, u)
			}
		}
	}
	return out
}

// unlistedPair is the largest such pattern of one pair of parts.
func unlistedPair(p, q design.Part, look func(design.Part, Role, hardware.Size) ([]candidate, []side)) (best facts.Unlisted, ok bool) {
	for _, role := range []Role{Insert, Nut, Thread} {
		for _, size := range hardware.Sizes() {
			cp, sp := look(p, Clearance, size)
			cq, sq := look(q, role, size)
			for _, x := range sp {
				for _, y := range sq {
					if len(x.spots) < leastUnlisted || len(y.spots) < leastUnlisted || len(x.spots) > mostSpots || len(y.spots) > mostSpots {
						continue
					}
					l := lay(x.spots, y.spots, mostSpots, patternPlay)
					if !l.known || len(l.pairs) < leastUnlisted || len(l.pairs) <= best.Count {
						continue
					}
					best = facts.Unlisted{Through: string(p.Name.V), Into: string(q.Name.V), Size: string(size), Role: string(role), Count: len(l.pairs),
						Clearance: round3(cp[x.spots[l.pairs[0].a].cand].passes), Diameter: round3(cq[y.spots[l.pairs[0].b].cand].passes)}
				}
			}
		}
	}
	return best, best.Count > 0
}

// unclear tells whether a fastener that could not be understood names both parts: the holes are its own.
func unclear(joints []*joint, p, q design.Part) bool {
	for _, j := range joints {
		if j.fact.Thing != "" {
			continue
		}
		names := map[design.Name]bool{j.f.Into.Part().V: true}
		for _, t := range j.f.Through {
			names[t.V] = true
		}
		if names[p.Name.V] && names[q.Name.V] {
			return true
		}
	}
	return false
}
