package mesh

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
)

// plainCounts is the edge census by maps: slow, and independent of the windows.
func plainCounts(m *Mesh) (EdgeCounts, int) {
	type use struct{ forward, backward int }
	edges := map[[2]uint32]*use{}
	corners := map[[3]uint32]int{}
	out := EdgeCounts{Vertices: len(m.Vertices)}
	collapsed := 0
	for _, t := range m.Triangles {
		if t[0] == t[1] || t[1] == t[2] || t[2] == t[0] {
			collapsed++
			continue
		}
		for k := range 3 {
			u, v := t[k], t[(k+1)%3]
			key := [2]uint32{min(u, v), max(u, v)}
			if edges[key] == nil {
				edges[key] = &use{}
			}
			if u < v {
				edges[key].forward++
			} else {
				edges[key].backward++
			}
		}
		s := t
		slices.Sort(s[:])
		corners[s]++
	}
	for _, u := range edges {
		switch n := u.forward + u.backward; {
		case n == 1:
			out.Open++
		case n > 2:
			out.Nonmanifold++
		case u.forward != u.backward:
			out.Flipped++
		}
	}
	for _, n := range corners {
		out.Duplicate += n - 1
	}
	return out, collapsed
}

func TestCensusAgainstMaps(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 3))
	for round := range 600 {
		nv, n := 4+r.IntN(40), 1+r.IntN(120)
		m := &Mesh{}
		for range nv {
			m.Vertices = append(m.Vertices, [3]float32{r.Float32(), r.Float32(), r.Float32()})
		}
		for range n {
			m.Triangles = append(m.Triangles, [3]uint32{uint32(r.IntN(nv)), uint32(r.IntN(nv)), uint32(r.IntN(nv))})
		}
		want, collapsed := plainCounts(m)
		for _, size := range []int{1, 3, 1000} {
			c := censusIn(m, tallyOf(m), scratch[uint32]{}, size)
			_, _, copies := shellsOf(m, c, frameFor(boxOfTriangles(m)))
			got := c.EdgeCounts
			got.Duplicate += copies
			if got != want || c.collapsed != collapsed {
				t.Fatalf("round %d, windows of %d: %+v and %d collapsed, want %+v and %d", round, size, got, c.collapsed, want, collapsed)
			}
			c.free()
		}
	}
}

// Windows, blocks and the ways to sort a bucket may not show in the result: a big mesh, in order and
// shuffled, with a fan of a thousand facets around one vertex.
func TestCensusInWindows(t *testing.T) {
	fan := Transform(Prism(1000, 10, 5), Shift(0, 0, 100))
	m := Merge(Join(Torus(30, 10, 200, 100), fan, Torus(60, 20, 30, 30)))
	m.Triangles = m.Triangles[3:]
	var want *census
	for _, mm := range []*Mesh{m, shuffled(m, 4), Merge(shuffled(m, 5))} {
		for _, size := range []int{700, 5000, 1 << 16} {
			c := censusIn(mm, tallyOf(mm), scratch[uint32]{}, size)
			if want == nil {
				want = c
			}
			if c.EdgeCounts != want.EdgeCounts || !reflect.DeepEqual(c.open, want.open) || c.numberShells(mm) != 3 {
				t.Errorf("windows of %d: %+v", size, c.EdgeCounts)
			}
		}
	}
	if want.Open == 0 {
		t.Error("no open edges, so nothing was compared")
	}
}
