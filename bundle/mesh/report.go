package mesh

// Kinds of faults, as they stand in Fault.Kind and in machine-readable output.
const (
	OpenEdge           = "open-edge"           // an edge of one facet only: the surface has a hole
	NonmanifoldEdge    = "nonmanifold-edge"    // an edge shared by more than two facets
	FlippedEdge        = "flipped-edge"        // its two facets disagree which side is outside
	DegenerateTriangle = "degenerate-triangle" // a facet without area
	DuplicateTriangle  = "duplicate-triangle"  // a facet on the same three corners as another
	InsideOut          = "inside-out"          // the whole surface faces inwards
	ShellSign          = "shell-sign"          // a shell inside another that adds where it should hollow out, or the reverse
	ShellOverlap       = "shell-overlap"       // a shell lies partly in another
)

// Fault is one kind of defect, how often it occurs, and up to ten places (mm), in order of x, y, z.
type Fault struct {
	Kind  string
	Count int
	At    [][3]float64
}

// Report is what can be said of a mesh alone. Two meshes that differ only in the order of their
// facets have equal reports, and the number of processors makes no difference either.
type Report struct {
	Triangles      int
	Vertices       int        // after the weld
	Min, Max, Size [3]float64 // mm; all 0 for an empty mesh

	// Volume (mm3) and Centroid (mm) are nil where the mesh encloses no volume: with an edge that is
	// open or wrongly turned any number would depend on where the origin lies. Volume is negative
	// for a mesh that is inside out. Facets given twice are counted once.
	Volume   *float64
	Centroid *[3]float64
	Area     float64 // mm2, of all facets

	EdgeCounts              // of the weld that was used
	Degenerate   int        // facets without area
	Watertight   bool       // no edge is open
	InsideOut    bool       // the outer shells enclose a negative volume
	Shells       int        // connected surfaces
	Voids        int        // of these, the ones that bound a cavity
	List         []Shell    // the shells, largest first; nil for a single one or for thousands
	WeldedWithin float64    // mm; 0 where vertices are one only if exactly equal
	Exact        EdgeCounts // what the exact weld gives, if WeldedWithin is not 0
	UnitSuspect  string     // "", "inch", "centimetre" or "metre"; see SuspectUnit
	Faults       []Fault    // kinds that occur, in the order of the constants above
}

// Inspect measures m, whose indices are in range, and looks for its faults. Vertices of equal place should be one already (Weld,
// Merge); where edges stay open, vertices that nearly meet are made one too, if that helps. The mesh
// returned is the one that the report speaks of: m itself, or the one so mended.
func Inspect(m *Mesh) (Report, *Mesh) {
	b := boxOfTriangles(m)
	f := frameFor(b)
	t := sumsOf(m, f)
	c := censusOf(m, tallyOf(m), scratch[uint32]{})
	defer c.free()
	return inspect(m, c, b, f, &t)
}

// box is a bounding box.
type box struct{ lo, hi [3]float32 }

// grow takes p in. It compares and assigns: the built-in min and max obey NaN rules and halve the speed.
func (b *box) grow(p *[3]float32) {
	for a, x := range p {
		if x < b.lo[a] {
			b.lo[a] = x
		}
		if x > b.hi[a] {
			b.hi[a] = x
		}
	}
}

// boxOfVertices is the box of a welded mesh, which has no vertex that no facet uses.
func boxOfVertices(m *Mesh) (b box) {
	if len(m.Vertices) > 0 {
		b = box{m.Vertices[0], m.Vertices[0]}
	}
	for i := range m.Vertices {
		b.grow(&m.Vertices[i])
	}
	return b
}

// boxOfTriangles is the box of the vertices in use.
func boxOfTriangles(m *Mesh) (b box) {
	for i, t := range m.Triangles {
		if i == 0 {
			b = box{m.Vertices[t[0]], m.Vertices[t[0]]}
		}
		for _, id := range t {
			b.grow(&m.Vertices[id])
		}
	}
	return b
}

// sumsOf adds up the facets of m.
func sumsOf(m *Mesh, f frame) totals {
	n := len(m.Triangles)
	chunks := (n + sumChunk - 1) / sumChunk
	parts := make([]totals, workerCount(chunks))
	buffers := make([][]byte, len(parts))
	for i := range parts {
		parts[i] = newTotals()
	}
	parallel(chunks, func(w, i int) {
		if buffers[w] == nil {
			buffers[w] = make([]byte, sumChunk*corners)
		}
		from, to := i*sumChunk, min((i+1)*sumChunk, n)
		s := Soup{Data: gather(buffers[w], m, from, to), Stride: corners}
		parts[w].add(s, 0, to-from, from, f)
	})
	all := newTotals()
	for i := range parts {
		all.merge(&parts[i])
	}
	return all
}

func inspect(m *Mesh, c *census, b box, f frame, t *totals) (Report, *Mesh) {
	r := Report{Triangles: len(m.Triangles)}
	if len(m.Triangles) == 0 {
		return r, m
	}
	r.Min, r.Max = wide(b.lo), wide(b.hi)
	extent := 0.0
	for a := range 3 {
		r.Size[a] = r.Max[a] - r.Min[a]
		extent = max(extent, r.Size[a])
	}
	if c.Open > 0 {
		m, c = r.mend(m, c, extent)
		defer c.free()
	}
	r.EdgeCounts = c.EdgeCounts
	r.Vertices = c.EdgeCounts.Vertices
	r.Watertight = c.Open == 0
	r.Degenerate = t.degenerate
	unbalanced := c.unbalanced

	volume, area, centroid := t.unscale(f)
	r.Area = area
	if unbalanced > 0 && c.Open == 0 && c.Duplicate > 0 {
		// The copies alone may be what spoils the balance.
		single := withoutCopies(m)
		sc := censusOf(single, tallyOf(single), scratch[uint32]{})
		sc.free()
		if sc.unbalanced == 0 {
			st := sumsOf(single, f)
			volume, _, centroid = st.unscale(f)
			unbalanced = 0
		}
	}
	if unbalanced == 0 {
		r.Volume = &volume
		if volume != 0 {
			r.Centroid = &centroid
		}
		r.InsideOut = volume < 0
	}
	r.judgeShells(m, c, f)
	r.UnitSuspect = SuspectUnit(r.Size, volume, area)
	r.listFaults(c, t)
	return r, m
}

// mend tries the tolerant weld, from narrow to wide, and keeps the first that closes all edges, or
// else the one that leaves fewest open.
func (r *Report) mend(m *Mesh, c *census, extent float64) (*Mesh, *census) {
	exact, bestMesh, best := c, m, c
	for _, tol := range nearTolerances(extent) {
		near := mergeNear(m, exact.boundary, tol)
		if len(near.Vertices) == len(m.Vertices) {
			continue
		}
		nc := censusOf(near, tallyOf(near), scratch[uint32]{})
		worse := nc
		if nc.Open < best.Open {
			worse = best
			bestMesh, best = near, nc
			r.WeldedWithin, r.Exact = tol, exact.EdgeCounts
		}
		if worse != exact { // the caller's
			worse.free()
		}
		if best.Open == 0 {
			break
		}
	}
	return bestMesh, best
}

// judgeShells counts shells and says how they lie in each other.
func (r *Report) judgeShells(m *Mesh, c *census, f frame) {
	count, list, copies := shellsOf(m, c, f)
	r.Shells, r.List = count, list
	r.Duplicate += copies
	if len(list) < 2 {
		return
	}
	insideOut, judged := nest(m, c.labels.of, list)
	r.InsideOut = insideOut
	for k := range list {
		s := &list[k]
		if s.Void || !judged && s.Volume < 0 {
			r.Voids++
		}
	}
}

func (r *Report) listFaults(c *census, t *totals) {
	add := func(kind string, count int, at [][3]float64) {
		if count > 0 {
			r.Faults = append(r.Faults, Fault{kind, count, at})
		}
	}
	var sign, overlap places
	signs, overlaps := 0, 0
	for _, s := range r.List {
		middle := [3]float64{(s.Min[0] + s.Max[0]) / 2, (s.Min[1] + s.Max[1]) / 2, (s.Min[2] + s.Max[2]) / 2}
		if s.WrongSign {
			signs++
			sign.add(middle)
		}
		if s.Overlaps {
			overlaps++
			overlap.add(middle)
		}
	}
	add(OpenEdge, c.Open, c.open.at)
	add(NonmanifoldEdge, c.Nonmanifold, c.nonmanifold.at)
	add(FlippedEdge, c.Flipped, c.flipped.at)
	add(DegenerateTriangle, r.Degenerate, t.flat.at)
	add(DuplicateTriangle, r.Duplicate, c.duplicates.at)
	if r.InsideOut {
		add(InsideOut, 1, nil)
	}
	add(ShellSign, signs, sign.at)
	add(ShellOverlap, overlaps, overlap.at)
}

// withoutCopies drops every facet but the first of those on the same corners in the same direction.
func withoutCopies(m *Mesh) *Mesh {
	seen := make(map[[3]uint32]bool, len(m.Triangles))
	out := &Mesh{Vertices: m.Vertices}
	for _, t := range m.Triangles {
		for t[0] > t[1] || t[0] > t[2] {
			t[0], t[1], t[2] = t[1], t[2], t[0]
		}
		if !seen[t] {
			seen[t] = true
			out.Triangles = append(out.Triangles, t)
		}
	}
	return out
}
