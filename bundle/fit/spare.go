package fit

import (
	"dropwright/bundle/facts"
)

// spare looks for holes that lie where a joint's own pattern goes on: more places for its screw than the list
// has screws. The joint's holes fix how its parts lie on one another, so that one more pair that meets is no
// chance, as it would be between parts that nothing joins.
func (w *worker) spare(v string, joints []*joint) []facts.Unlisted {
	used := usedHoles(joints)
	var out []facts.Unlisted
	for _, j := range joints {
		into := j.holder()
		if into == nil || j.fact.Count < 2 || j.fact.Thing == "" {
			continue
		}
		best, seen := facts.Unlisted{}, false
		for _, m := range j.parts {
			if m == into || m.shape == nil || m.fixed {
				continue
			}
			u, ok := j.spareIn(m, into, used, joints)
			if !ok { // one of the parts is full: the joint is
				seen = false
				break
			}
			if !seen || u.Count < best.Count {
				best, seen = u, true
			}
		}
		if seen {
			best.Variant = v
			out = append(out, best)
		}
	}
	return out
}

// holder is the member that holds the thread, when it is a printed part and all screws found their holes by the
// pattern; else nil.
func (j *joint) holder() *member {
	var into *member
	for _, m := range j.parts {
		if m.fixed || m.fact.Kind == "board" { // a board has its own number of mounts
			return nil
		}
		if m.shape == nil {
			continue
		}
		if !m.fact.Matched || m.unlike {
			return nil
		}
		for _, h := range m.fact.Holes {
			if h.Missing || h.Off > 0 || h.Low > 0 {
				return nil
			}
		}
		if m.want.role != Clearance {
			into = m
		}
	}
	return into
}

// spareIn lays the holes of m that the joint uses, and those nobody uses, on those of into.
func (j *joint) spareIn(m, into *member, used map[string]map[int]bool, joints []*joint) (facts.Unlisted, bool) {
	rounds := max(m.copiesOf(), into.copiesOf())
	if m.fact.File == into.fact.File || m.copiesOf() != 1 && into.copiesOf() != 1 && m.copiesOf() != into.copiesOf() {
		return facts.Unlisted{}, false
	}
	// Several entries may share one pattern between the same parts, four long screws and two short ones.
	own := map[*member]map[int]bool{m: {}, into: {}}
	count := 0
	for _, o := range joints {
		x, y := o.partOf(m), o.partOf(into)
		if x == nil || y == nil || o.fact.Size != j.fact.Size {
			continue
		}
		count += o.fact.Count
		for c := range usedBy(x.use) {
			own[m][x.cands[c].hole] = true
		}
		for c := range usedBy(y.use) {
			own[into][y.cands[c].hole] = true
		}
	}
	per := share(count, rounds)
	if per < 2 {
		return facts.Unlisted{}, false
	}
	pick := func(x *member) []side {
		var out []side
		for _, s := range x.sides {
			y := side{out: s.out, frame: s.frame}
			for _, p := range s.spots {
				c := &x.cands[p.cand]
				if own[x][c.hole] || c.score == 1 && !used[x.fact.File][c.hole] {
					y.spots = append(y.spots, p)
				}
			}
			if len(y.spots) > per && len(y.spots) <= mostSpots {
				out = append(out, y)
			}
		}
		return out
	}
	var u facts.Unlisted
	for _, x := range pick(m) {
		for _, y := range pick(into) {
			l := lay(x.spots, y.spots, mostSpots, patternPlay)
			both, free := 0, 0
			var at pair
			for _, p := range l.pairs {
				a, b := own[m][m.cands[x.spots[p.a].cand].hole], own[into][into.cands[y.spots[p.b].cand].hole]
				switch {
				case a && b:
					both++
				case !a && !b && p.low <= seatPlay:
					free++
					at = p
				}
			}
			if !l.known || both < per || free <= u.Count {
				continue
			}
			u = facts.Unlisted{Through: m.fact.Name, Into: into.fact.Name, Size: j.fact.Size, Role: string(into.want.role), Fastener: j.fact.Fastener, Count: free,
				Listed: count, Holes: rounds * (per + free), Copies: rounds, Clearance: round3(m.cands[x.spots[at.a].cand].passes), Diameter: round3(into.cands[y.spots[at.b].cand].passes)}
		}
	}
	return u, u.Count > 0
}

// partOf is the member of a joint that is the same part in the same role.
func (j *joint) partOf(m *member) *member {
	for _, x := range j.parts {
		if x.fact.Name == m.fact.Name && x.want.role == m.want.role && x.shape != nil {
			return x
		}
	}
	return nil
}

// usedHoles is the holes that joints use, by mesh file and number in the census.
func usedHoles(joints []*joint) map[string]map[int]bool {
	used := map[string]map[int]bool{}
	for _, j := range joints {
		for _, m := range j.parts {
			if m.shape == nil {
				continue
			}
			if used[m.fact.File] == nil {
				used[m.fact.File] = map[int]bool{}
			}
			for _, c := range m.use {
				if c >= 0 {
					used[m.fact.File][m.cands[c].hole] = true
				}
			}
		}
	}
	return used
}

// told tells whether what is left over of a joint already says what a pattern of free holes would.
func told(list []facts.Unlisted, u facts.Unlisted) bool {
	for _, x := range list {
		if x.Through == u.Through && x.Into == u.Into && x.Size == u.Size && x.Role == u.Role {
			return true
		}
	}
	return false
}
