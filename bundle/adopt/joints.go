package adopt

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/fit"
	"dropwright/bundle/hardware"
	"dropwright/bundle/unit"
)

// joint is a set of holes that look made for one kind of screw, in one or more variants.
type joint struct {
	through []string // what is passed, head first: parts, "board"
	into    string
	part    *part // of into
	options []holeUse
	count   int
	variant string // "" in a design without
	kind    jointKind
	words   []string // further words by which texts call it: fan
	from    string
	holes   int     // holes in into of one copy
	width   float64 // mm that passes them
	left    int     // screws not yet given to a listed item
	sure    bool    // the pattern of two parts, or a board's mounts, settle it
}

// holeUse is a role and size that the holes may have.
type holeUse struct {
	role fit.Role
	size hardware.Size
}

type jointKind int

const (
	boardJoint jointKind = iota
	fanJoint
	pairJoint
	singleJoint
	restJoint // holes that nothing else in the folder shares
)

// allowanceOf is by how much holes print too small, as the series says, or as is usual.
func (r *reader) allowance() float64 {
	if r.opt.House != nil && r.opt.House.Print.HoleAllowance.Set() {
		return float64(r.opt.House.Print.HoleAllowance.V)
	}
	a, _ := hardware.HoleAllowance()
	return a
}

// holding are the roles of holes that hold a thread, in the order in which they are tried.
var holding = []fit.Role{fit.Insert, fit.Nut, fit.Thread}

// census is the holes of one variant on their way to joints.
type census struct {
	r     *reader
	v     string
	used  map[*solid]map[int]bool
	parts []*part
	out   []*joint
}

func (c *census) free(s *solid) func(int) bool {
	return func(h int) bool { return !c.used[s][h] }
}

func (c *census) take(s *solid, holes ...int) {
	if c.used[s] == nil {
		c.used[s] = map[int]bool{}
	}
	for _, h := range holes {
		c.used[s][h] = true
	}
}

// jointsIn finds the joints of one variant: boards on their mounts first, then what two parts share, then single
// holes under several, then what is left.
func (r *reader) jointsIn(v string) []*joint {
	c := &census{r: r, v: v, used: map[*solid]map[int]bool{}}
	for _, p := range r.parts {
		if s := p.meshIn(v); s != nil && s.shape != nil && p.printable() && len(s.shape.Holes) <= maxHoles {
			c.parts = append(c.parts, p)
		}
	}
	if len(c.parts) > 120 {
		c.parts = c.parts[:120] // the pairs of more take minutes
	}
	c.boards()
	c.pairs(3)
	c.pairs(2)
	c.singles()
	c.rest()
	c.fans()
	for _, j := range c.out {
		j.variant, j.left = v, j.count
	}
	return c.out
}

// boards are the joints of boards with the parts they sit in.
func (c *census) boards() {
	var boards []boardUse
	for _, v := range c.r.variants {
		if v.name == c.v {
			boards = v.boards
		}
	}
	for i, b := range boards {
		if b.sitsIn == nil || b.seat == nil {
			continue
		}
		s := b.sitsIn.meshIn(c.v)
		p := c.r.profile(b.id)
		if s == nil || s.shape == nil || p == nil {
			continue
		}
		byWidth := map[float64][]int{}
		var widths []float64
		for _, m := range b.seat.seat.Mounts {
			if m.Hole == nil || !m.Met {
				continue
			}
			if h := holeAt(s.shape, *m.Hole); h >= 0 {
				w := math.Round(s.shape.Holes[h].Passes*100) / 100
				if byWidth[w] == nil {
					widths = append(widths, w)
				}
				byWidth[w] = append(byWidth[w], h)
			}
		}
		slices.Sort(widths)
		for _, w := range widths {
			holes := byWidth[w]
			j := &joint{through: []string{boardName(boards, i)}, into: b.sitsIn.name, part: b.sitsIn, kind: boardJoint, count: len(holes), holes: len(holes), width: w, sure: true,
				from: fmt.Sprintf("%s of %s under the mounts of the board", unit.Count(len(holes), "hole"), s.file)}
			for _, size := range hardware.Sizes() {
				if !boardTakes(p.Mounts[0].Hole.MM, p.Mounts[0].Screw.S, size) {
					continue
				}
				for _, role := range holding {
					if slices.Contains(fit.Suited(s.shape, size, role, c.r.allowance(), 0), holes[0]) {
						j.options = append(j.options, holeUse{role, size})
					}
				}
			}
			if len(j.options) == 0 {
				continue
			}
			slices.SortStableFunc(j.options, func(a, b holeUse) int { // the thickest screw that the board lets through
				return cmp.Compare(b.size.Nominal(), a.size.Nominal())
			})
			c.take(s, holes...)
			c.out = append(c.out, j)
		}
	}
}

// boardTakes tells whether a screw passes a board's mounts.
func boardTakes(hole float64, screw string, size hardware.Size) bool {
	if screw != "" {
		return size == hardware.Size(screw)
	}
	return hole == 0 || size.Nominal() <= hole && size.Nominal() > 0.6*hole
}

// boardName is how steps and joints call a board of a variant.
func boardName(boards []boardUse, i int) string {
	if len(boards) == 1 {
		return design.Board
	}
	return design.Kebab(boards[i].id)
}

// holeAt is the hole of a shape with an opening at a place, -1 for none.
func holeAt(s *fit.Shape, at [3]float64) int {
	best, near := -1, 0.2
	for i := range s.Holes {
		for _, e := range [2][3]float64{s.Holes[i].From.At, s.Holes[i].To.At} {
			if d := math.Sqrt(sq(e[0]-at[0]) + sq(e[1]-at[1]) + sq(e[2]-at[2])); d < near {
				best, near = i, d
			}
		}
	}
	return best
}

func sq(x float64) float64 { return x * x }

// pairs finds patterns that two parts share, of at least so many holes.
func (c *census) pairs(least int) {
	type found struct {
		p, q *part
		use  holeUse
		pat  fit.Pattern
	}
	var all []found
	allowance := c.r.allowance()
	for _, p := range c.parts {
		for _, q := range c.parts {
			if p == q {
				continue
			}
			sp, sq := p.meshIn(c.v), q.meshIn(c.v)
			for _, size := range hardware.Sizes() {
				if len(fit.Suited(sp.shape, size, fit.Clearance, allowance, 0)) < least {
					continue
				}
				for _, role := range holding {
					for _, pat := range fit.Shared(sp.shape, sq.shape, size, role, allowance, 0, least, c.free(sp), c.free(sq)) {
						all = append(all, found{p, q, holeUse{role, size}, pat})
					}
				}
			}
		}
	}
	slices.SortStableFunc(all, func(a, b found) int { return cmp.Compare(len(b.pat.Through), len(a.pat.Through)) })
	for _, f := range all {
		sp, sq := f.p.meshIn(c.v), f.q.meshIn(c.v)
		if slices.ContainsFunc(f.pat.Through, func(h int) bool { return c.used[sp][h] }) || slices.ContainsFunc(f.pat.Into, func(h int) bool { return c.used[sq][h] }) {
			continue
		}
		n := len(f.pat.Through)
		into, through := slices.Clone(f.pat.Into), slices.Clone(f.pat.Through)
		rounds := 1
		cp, cq := f.p.total(), f.q.total()
		switch {
		case cp == cq:
			rounds = cp
		case cp > 1 && cq == 1: // each copy of the upper part has holes of its own below
			own := map[int]bool{}
			for _, h := range f.pat.Through {
				own[h] = true
			}
			for rounds < cp {
				more := fit.Shared(sp.shape, sq.shape, f.use.size, f.use.role, allowance, 0, least, func(h int) bool { return own[h] }, func(h int) bool { return !c.used[sq][h] && !slices.Contains(into, h) })
				if len(more) == 0 || len(more[0].Through) < n {
					break
				}
				into = append(into, more[0].Into...)
				rounds++
			}
		case cq > 1 && cp == 1:
			own := map[int]bool{}
			for _, h := range f.pat.Into {
				own[h] = true
			}
			for rounds < cq {
				more := fit.Shared(sp.shape, sq.shape, f.use.size, f.use.role, allowance, 0, least, func(h int) bool { return !c.used[sp][h] && !slices.Contains(through, h) }, func(h int) bool { return own[h] })
				if len(more) == 0 || len(more[0].Into) < n {
					break
				}
				through = append(through, more[0].Through...)
				rounds++
			}
		}
		if least == 2 && n < 3 && !c.covers(sq, into) {
			continue // two holes lie alike in any two parts by chance
		}
		c.take(sp, through...)
		c.take(sq, into...)
		j := &joint{through: []string{f.p.name}, into: f.q.name, part: f.q, kind: pairJoint, options: []holeUse{f.use}, count: n * rounds, holes: len(f.pat.Into), width: f.pat.Diameter, sure: n >= 3 || rounds > 1,
			from: fmt.Sprintf("%d holes of %s over as many of %s", n, sp.file, sq.file)}
		if f.use.role == fit.Nut {
			c.takeNutHoles(sq, into)
		}
		c.out = append(c.out, j)
	}
}

// takeNutHoles marks the round holes that lead to nut pockets.
func (c *census) takeNutHoles(s *solid, pockets []int) {
	for _, h := range pockets {
		for k := range s.shape.Holes {
			if s.shape.Holes[k].Group == s.shape.Holes[h].Group {
				c.take(s, k)
			}
		}
	}
}

// covers tells whether a pattern uses all the holes of a part that are like its own and still free.
func (c *census) covers(s *solid, holes []int) bool {
	for i := range s.shape.Holes {
		if !c.used[s][i] && !slices.Contains(holes, i) && alike(s.shape, i, holes[0]) {
			return false
		}
	}
	return true
}

// alike tells whether two holes have the same direction, width and depth.
func alike(s *fit.Shape, a, b int) bool {
	x, y := &s.Holes[a], &s.Holes[b]
	d := x.Axis[0]*y.Axis[0] + x.Axis[1]*y.Axis[1] + x.Axis[2]*y.Axis[2]
	return x.Kind == y.Kind && math.Abs(d) > 0.999 && math.Abs(x.Passes-y.Passes) < 0.06 && math.Abs(x.Depth-y.Depth) < 0.3 && x.Through == y.Through
}

// singles finds parts with one hole for a screw, of which there are as many copies as another part has holes to
// pass it: feet, knobs. Where nobody says how many copies there are, the holes do.
func (c *census) singles() {
	c.singlesOf(true)
	c.singlesOf(false)
}

// singlesOf looks at parts whose copies are as many as the holes, or, with known false, at those of which nobody
// says how many there are.
func (c *census) singlesOf(known bool) {
	allowance := c.r.allowance()
	for _, q := range c.parts {
		sq := q.meshIn(c.v)
		if !known && q.copiesBy.sure > Guess {
			continue
		}
		for _, role := range holding {
			for _, size := range hardware.Sizes() {
				into := freeOf(fit.Suited(sq.shape, size, role, allowance, 0), c.used[sq])
				if len(into) != 1 {
					continue
				}
				for _, p := range c.parts {
					if p == q || p.total() > 1 || c.used[sq][into[0]] {
						continue
					}
					sp := p.meshIn(c.v)
					for _, set := range alikeSets(sp.shape, freeOf(fit.Suited(sp.shape, size, fit.Clearance, allowance, 0), c.used[sp])) {
						n := len(set)
						if n < 2 || known != (q.total() == n) || !known && !c.r.listsScrew(size, n) && (n < 3 || len(c.r.items) > 0) {
							continue
						}
						if !known {
							q.copies, q.copiesBy = n, origin{fmt.Sprintf("%s has %d holes for it", sp.file, n), Likely}
						}
						c.take(sq, into...)
						c.take(sp, set...)
						c.out = append(c.out, &joint{through: []string{p.name}, into: q.name, part: q, kind: singleJoint, options: []holeUse{{role, size}}, count: n, holes: 1, width: sq.shape.Holes[into[0]].Passes, sure: true,
							from: fmt.Sprintf("%d holes of %s, one of %s for each copy", n, sp.file, sq.file)})
						break
					}
				}
			}
		}
	}
}

// listsScrew tells whether a list has so many screws of a size, in any length.
func (r *reader) listsScrew(size hardware.Size, n int) bool {
	for _, it := range r.items {
		if it.m.kind == hardware.KindScrew && it.m.size == size && it.counted && it.count == n {
			return true
		}
	}
	return false
}

func freeOf(holes []int, used map[int]bool) []int {
	return slices.DeleteFunc(slices.Clone(holes), func(h int) bool { return used[h] })
}

// alikeSets sorts holes into sets that are alike.
func alikeSets(s *fit.Shape, holes []int) [][]int {
	var out [][]int
next:
	for _, h := range holes {
		for i := range out {
			if alike(s, h, out[i][0]) {
				out[i] = append(out[i], h)
				continue next
			}
		}
		out = append(out, []int{h})
	}
	return out
}

// rest gathers the holes that hold a thread and that no other part shares: for what is bought, and for boards
// without a profile.
func (c *census) rest() {
	allowance := c.r.allowance()
	for _, p := range c.parts {
		s := p.meshIn(c.v)
		options := map[int][]holeUse{}
		var holes []int
		for _, role := range holding {
			for _, size := range hardware.Sizes() {
				for _, h := range freeOf(fit.Suited(s.shape, size, role, allowance, 0), c.used[s]) {
					if role != fit.Nut && s.shape.Holes[h].Through && role == fit.Insert {
						continue // a hole right through is seldom for an insert
					}
					if options[h] == nil {
						holes = append(holes, h)
					}
					options[h] = append(options[h], holeUse{role, size})
				}
			}
		}
		slices.Sort(holes)
		for _, set := range alikeSets(s.shape, holes) {
			h := &s.shape.Holes[set[0]]
			j := &joint{into: p.name, part: p, kind: restJoint, options: options[set[0]], count: len(set) * p.total(), holes: len(set), width: h.Passes,
				from: fmt.Sprintf("%s of %s", unit.Count(len(set), "hole"), s.file)}
			c.out = append(c.out, j)
		}
	}
}

// fans makes fan joints of what is left where four holes form the square of a fan's.
func (c *census) fans() {
	for _, j := range c.out {
		if j.kind != restJoint || j.holes != 4 {
			continue
		}
		s := j.part.meshIn(c.v)
		for _, f := range s.fans {
			if math.Abs(f.Found-f.Pitch) < 0.8 {
				j.words = append(j.words, "fan")
				j.from += fmt.Sprintf(" in the square of a %s mm fan", figureText(f.Frame))
				j.kind = fanJoint
				j.sure = true
				break
			}
		}
	}
}

// name is what a fastener of the joint is called: after what it holds.
func (j *joint) name() string {
	base := j.into
	if len(j.through) > 0 {
		base = j.through[0]
	} else if len(j.words) > 0 {
		base = j.words[0]
	}
	return strings.TrimSuffix(base, "-screw") + "-screw"
}

// use is the role and size that a screw of the size has in the joint.
func (j *joint) use(size hardware.Size) (holeUse, bool) {
	for _, u := range j.options {
		if u.size == size {
			return u, true
		}
	}
	return holeUse{}, false
}
