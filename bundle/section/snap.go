package section

import (
	"cmp"
	"math"
	"slices"
)

// chain is a run of linked segments that did not close.
type chain struct {
	from, to   Point
	first, end int // in Section.segs
	next       int // chain that follows, -1 while none does
	taken      bool
	done       bool
}

// snap joins open chains end to start, nearest first, and returns how many stay open. Nearest first
// keeps two outlines apart that pass each other within the tolerance.
func (sec *Section) snap() (open int) {
	type cell [2]int64
	at := func(p Point) cell {
		return cell{int64(math.Floor(p[0] / SnapWithin)), int64(math.Floor(p[1] / SnapWithin))}
	}
	starts := make(map[cell][]int, len(sec.ends))
	for i, c := range sec.ends {
		starts[at(c.from)] = append(starts[at(c.from)], i)
	}
	type pair struct {
		distance float64
		end, to  int
	}
	var pairs []pair
	for i, c := range sec.ends {
		m := at(c.to)
		for dx := int64(-1); dx <= 1; dx++ {
			for dy := int64(-1); dy <= 1; dy++ {
				for _, j := range starts[cell{m[0] + dx, m[1] + dy}] {
					d := math.Hypot(c.to[0]-sec.ends[j].from[0], c.to[1]-sec.ends[j].from[1])
					// A chain shorter than the tolerance must not close on itself and leave a gap.
					if d <= SnapWithin && (i != j || d < sec.chainLength(c)) {
						pairs = append(pairs, pair{d, i, j})
					}
				}
			}
		}
	}
	slices.SortFunc(pairs, func(a, b pair) int {
		return cmp.Or(cmp.Compare(a.distance, b.distance), cmp.Compare(a.end, b.end), cmp.Compare(a.to, b.to))
	})
	for _, p := range pairs {
		if e, s := &sec.ends[p.end], &sec.ends[p.to]; e.next < 0 && !s.taken {
			e.next, s.taken = p.to, true
		}
	}
	for i := range sec.ends {
		if !sec.ends[i].taken { // nothing leads here: the head of a chain that stays open
			open++
			for j := i; j >= 0; j = sec.ends[j].next {
				sec.ends[j].done = true
			}
		}
	}
	for i := range sec.ends {
		if sec.ends[i].done {
			continue
		}
		start := len(sec.segs)
		for j := i; !sec.ends[j].done; j = sec.ends[j].next {
			sec.ends[j].done = true
			sec.segs = append(sec.segs, sec.segs[sec.ends[j].first:sec.ends[j].end]...)
		}
		sec.addLoop(start)
	}
	return open
}

// chainLength returns the length of a chain, as far as it is needed to compare with SnapWithin.
func (sec *Section) chainLength(c chain) float64 {
	sum := 0.0
	for _, j := range sec.segs[c.first:c.end] {
		g := sec.Segments[j]
		if sum += math.Hypot(g.B[0]-g.A[0], g.B[1]-g.A[1]); sum > 2*SnapWithin {
			break
		}
	}
	return sum
}
