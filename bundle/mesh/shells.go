package mesh

import (
	"cmp"
	"math"
	"slices"
)

// Shell is one connected surface of a mesh: facets joined across edges that two of them share. A solid
// with a sealed cavity has two, the outer one and the void.
type Shell struct {
	Triangles int
	Min, Max  [3]float64 // mm
	Volume    float64    // mm3, signed: negative for a void; 0 where the shell is not closed
	Closed    bool       // encloses a volume: no open or wrongly turned edge
	Depth     int        // how many other closed shells it lies in
	Void      bool       // a closed shell that bounds a cavity: it lies in another and faces the other way
	WrongSign bool       // a closed shell that faces the way that its depth does not allow
	Overlaps  bool       // parts of it lie inside another shell and parts outside
}

// noShell labels a facet that is a line or a point and belongs to none.
const noShell = ^uint32(0)

// maxShells is the most shells that are looked at one by one (nesting, overlap): a mesh in thousands
// of pieces has a fault that is told by its edges. Our own limit.
const maxShells = 4096

// shellsOf splits the mesh into shells, largest first. f is the frame of the whole mesh. It returns
// the number of shells; the list is nil where there are more than maxShells.
func shellsOf(m *Mesh, c *census, f frame) (count int, list []Shell, duplicates int) {
	n := len(m.Triangles)
	label := c.parent
	live := func(i int) bool { t := m.Triangles[i]; return t[0] != t[1] && t[1] != t[2] && t[2] != t[0] }
	for i := range n {
		// Roots have the smallest index of their shell, so they are met first.
		if label[i] == uint32(i) && live(i) {
			count++
		}
	}
	if count <= 1 && n != 2 {
		return count, nil, 0
	}

	// number[root] would cost memory per facet; roots are renamed in place instead, walking backwards
	// so that a root is renamed after all facets that point to it.
	roots := make([]uint32, 0, count)
	for i := range n {
		label[i] = find(label, uint32(i))
		if label[i] == uint32(i) && live(i) {
			roots = append(roots, uint32(i))
		}
	}
	shells := make([]shellSums, count)
	at := make(map[uint32]int32, min(count, 1<<16))
	for k, r := range roots {
		at[r] = int32(k)
	}
	last, lastRoot := int32(-1), ^uint32(0)
	scale := math.Ldexp(1, -f.exp)
	for i := range n {
		if !live(i) {
			label[i] = noShell
			continue
		}
		if r := label[i]; r != lastRoot {
			last, lastRoot = at[r], r
		}
		label[i] = uint32(last)
		shells[last].add(m, i, f, scale, c.leaky[i/32]>>(i%32)&1 == 1)
	}
	for k := range shells {
		// Two facets back to back, alone: the edge pass sees three good edges.
		if s := &shells[k]; s.triangles == 2 && !s.leaky {
			duplicates++
			c.duplicates.add(m.centre(roots[k]))
		}
	}
	if count > maxShells {
		return count, nil, duplicates
	}
	list = make([]Shell, count)
	for k := range shells {
		list[k] = shells[k].shell(f)
	}
	// The list, and the labels with it, take an order that does not depend on the facets' order.
	order := make([]int, count)
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int { return compareShells(&list[a], &list[b]) })
	rank := make([]uint32, count)
	sorted := make([]Shell, count)
	for k, o := range order {
		rank[o] = uint32(k)
		sorted[k] = list[o]
	}
	for i, l := range label {
		if l != noShell {
			label[i] = rank[l]
		}
	}
	return count, sorted, duplicates
}

func compareShells(a, b *Shell) int {
	return cmp.Or(
		cmp.Compare(b.Triangles, a.Triangles),
		comparePlaces(a.Min, b.Min), comparePlaces(a.Max, b.Max),
		cmp.Compare(a.Volume, b.Volume),
	)
}

// shellSums are the sums of one shell, in integers for the reason given in sums.go.
type shellSums struct {
	triangles int
	lo, hi    [3]float32
	volume    int128
	leaky     bool
}

func (s *shellSums) add(m *Mesh, i int, f frame, scale float64, leaky bool) {
	t := m.Triangles[i]
	a, b, c := m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]]
	if s.triangles == 0 {
		s.lo, s.hi = a, a
	}
	s.triangles++
	s.leaky = s.leaky || leaky
	for _, v := range [3][3]float32{a, b, c} {
		for k, x := range v {
			s.lo[k], s.hi[k] = min(s.lo[k], x), max(s.hi[k], x)
		}
	}
	var p, u, v [3]float64
	for k := range 3 {
		p[k] = (float64(a[k]) - f.origin[k]) * scale
		u[k] = (float64(b[k]) - float64(a[k])) * scale
		v[k] = (float64(c[k]) - float64(a[k])) * scale
	}
	n := cross(u, v)
	s.volume.add(int64((float64(p[0]*n[0]) + float64(p[1]*n[1]) + float64(p[2]*n[2])) * (1 << volumeBits)))
}

func (s *shellSums) shell(f frame) Shell {
	out := Shell{Triangles: s.triangles, Min: wide(s.lo), Max: wide(s.hi), Closed: !s.leaky}
	if out.Closed {
		out.Volume = math.Ldexp(s.volume.float()/6, 3*f.exp-volumeBits)
	}
	return out
}

// cross is the vector product, without fused operations.
func cross(u, v [3]float64) [3]float64 {
	return [3]float64{
		float64(u[1]*v[2]) - float64(u[2]*v[1]),
		float64(u[2]*v[0]) - float64(u[0]*v[2]),
		float64(u[0]*v[1]) - float64(u[1]*v[0]),
	}
}
