package estimate

import (
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"dropwright/bundle/motion"
	"dropwright/bundle/section"
)

// layerChange is the time in seconds to raise the head and go on: common practice, no source.
const layerChange = 0.2

// job is one part being estimated. Layers are drawn a few at a time into rings of bitmaps, and a layer
// is divided as soon as the layers above it that it depends on are drawn; so memory does not grow
// with their number.
type job struct {
	stack   *section.Stack
	s       Settings
	m       Machine
	g       grid
	workers int
	crew    []hand

	top, bottom int // full layers, no more than there are layers
	chunk       int // layers drawn at a time
	slab        []uint64
	sections    []bitmap // ring of sections A
	insides     []bitmap // ring of insides I

	layers   []layer
	closed   int // layers with a closed outline
	brim     float64
	brimTime float64
}

// hand is the scratch memory of one goroutine.
type hand struct {
	sec      section.Section
	trace    tracer
	paint    painter
	edges    []edge
	solid    bitmap
	coverage bitmap
}

// layer is what one layer amounts to: areas in mm2, times in seconds.
type layer struct {
	height  float64 // mm
	section float64
	inside  float64
	solid   float64
	sparse  float64
	support float64
	outline float64 // of walls = section - inside
	seconds float64
	open    int  // outlines that do not close
	overlap bool // counted in pixels because shells overlap
	any     bool
}

func newJob(stack *section.Stack, b extent, s Settings, m Machine, workers int) *job {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	n := stack.Len()
	j := &job{stack: stack, s: s, m: m, workers: min(workers, n)}
	margin := s.Brim
	if s.Supports {
		margin = math.Max(margin, j.reach(s.Layer))
	}
	j.g = newGrid(b.ulo, b.uhi, margin, s.Line)
	j.top, j.bottom = min(s.SolidTop, n), min(s.SolidBottom, n)
	j.chunk = max(4, 2*j.workers)
	j.crew = make([]hand, j.workers)
	words := j.g.words()
	a, i := j.chunk+j.top+j.bottom, j.chunk+j.top
	j.slab = borrow((a + i + 2*j.workers) * words)
	rest := j.slab
	cut := func() bitmap {
		b := bitmap(rest[:words:words])
		rest = rest[words:]
		return b
	}
	for range a {
		j.sections = append(j.sections, cut())
	}
	for range i {
		j.insides = append(j.insides, cut())
	}
	for w := range j.crew {
		j.crew[w].paint.grid = &j.g
		j.crew[w].solid, j.crew[w].coverage = cut(), cut()
	}
	j.layers = make([]layer, n)
	for k := range j.layers {
		j.layers[k].height = s.Layer
	}
	j.layers[0].height = s.FirstLayer
	return j
}

// slabs keeps bitmaps from part to part: a page touched for the first time costs more than drawing it.
var slabs sync.Pool

func borrow(n int) []uint64 {
	if p, ok := slabs.Get().(*[]uint64); ok && cap(*p) >= n {
		return (*p)[:n]
	}
	return make([]uint64, n)
}

func (j *job) release() {
	slabs.Put(&j.slab)
	j.slab, j.sections, j.insides = nil, nil, nil
}

// each runs f for from <= k < to on all hands, in no fixed order.
func (j *job) each(from, to int, f func(h *hand, k int)) {
	workers := min(j.workers, to-from)
	if workers <= 1 {
		for k := from; k < to; k++ {
			f(&j.crew[0], k)
		}
		return
	}
	var next atomic.Int64
	next.Store(int64(from))
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for {
				k := int(next.Add(1)) - 1
				if k >= to {
					return
				}
				f(&j.crew[w], k)
			}
		})
	}
	wg.Wait()
}

func (j *job) run() {
	n, divided := j.stack.Len(), 0
	for from := 0; from < n; from += j.chunk {
		to := min(from+j.chunk, n)
		j.each(from, to, j.draw)
		ready := to - j.top
		if to == n {
			ready = n
		}
		if ready > divided {
			j.each(divided, ready, j.divide)
			divided = ready
		}
	}
	for k := range j.layers {
		if j.layers[k].any {
			j.closed++
		}
	}
}

// outlines cuts layer k and returns its loops, area (mm2) and the edges to draw it by. Where outlines
// do not close, only those that do are taken.
func (j *job) outlines(h *hand, k int) (loops []section.Loop, area float64, open int) {
	j.stack.Cut(k, &h.sec)
	loops, open = h.sec.Loops()
	h.edges = h.edges[:0]
	if open == 0 {
		for _, g := range h.sec.Segments {
			h.edges = append(h.edges, edge{j.g.place(g.A), j.g.place(g.B)})
		}
		return loops, h.sec.Area(), 0
	}
	for i := range loops {
		area += loops[i].Area
		h.loopEdges(&j.g, loops[i].Points)
	}
	return loops, area, open
}

func (h *hand) loopEdges(g *grid, pts []section.Point) {
	last := g.place(pts[len(pts)-1])
	for _, p := range pts {
		q := g.place(p)
		h.edges = append(h.edges, edge{last, q})
		last = q
	}
}

// draw fills in section and inside of layer k, and what its outlines cost.
func (j *job) draw(h *hand, k int) {
	l := &j.layers[k]
	loops, area, open := j.outlines(h, k)
	a, inside := j.sections[k%len(j.sections)], j.insides[k%len(j.insides)]
	l.open, l.any = open, len(loops) > 0
	if !l.any {
		clear(a)
		clear(inside)
		return
	}
	h.paint.fill(a, h.edges)
	pixel := j.g.px * j.g.px
	seen := float64(a.count()) * pixel
	l.section = math.Abs(area)
	// Overlapping shells and shells of opposite sense: the exact sum counts what is not there. The
	// second term is what pixels may be off by along the outline: more than any case measured.
	length := 0.0
	for i := range loops {
		length += loops[i].Length
	}
	if math.Abs(l.section-seen) > 0.005*l.section+0.05*length*j.g.px {
		l.section, l.overlap = seen, true
	}
	copy(inside, a)
	d := j.s.width()
	if narrow := float64(min(j.g.nx, j.g.ny)) / 2 * j.g.px; d >= narrow {
		clear(inside) // no point is that far from the outline
	} else {
		h.paint.stamp(inside, h.edges, d/j.g.px, false)
	}
	l.inside = float64(inside.count()) * pixel
	if j.s.Walls == 0 || l.inside > l.section {
		l.inside = l.section
	}
	outline, wall := j.m.Outline, j.m.Wall
	if k == 0 {
		outline, wall = math.Min(outline, j.m.First), math.Min(wall, j.m.First)
	}
	t := h.trace.trace(loops, area < 0, &j.s, &j.m, outline, wall)
	// The walls hold what the section holds. Where it is too thin for all lines, the outline goes
	// first, and the time shrinks with the lines.
	walls := l.section - l.inside
	l.outline = math.Min(t.outline*j.s.Line, walls)
	l.seconds = t.hops + fitted(t.outlineSeconds, t.outline*j.s.Line, l.outline) +
		fitted(t.wallSeconds, t.wall*j.s.Line, walls-l.outline)
	if k == 0 && j.s.Brim > 0 {
		j.drawBrim(h, loops, area < 0)
	}
}

// fitted is the time of lines that were planned to cover the planned area and cover another one. Up
// to a percent both are the same area, once from lengths and once from pixels.
func fitted(seconds, planned, covered float64) float64 {
	if planned <= 0 || covered >= 0.99*planned {
		return seconds
	}
	return seconds * covered / planned
}

// divide splits the inside of layer k into solid and sparse.
func (j *job) divide(h *hand, k int) {
	l := &j.layers[k]
	if !l.any {
		return
	}
	n := j.stack.Len()
	inside := j.insides[k%len(j.insides)]
	solid, sparse := h.solid, h.coverage
	if k-j.bottom < 0 || k+j.top >= n {
		copy(solid, inside)
		clear(sparse)
	} else {
		copy(sparse, inside)
		for o := k - j.bottom; o <= k+j.top; o++ {
			if o == k {
				continue // the inside lies within its own section
			}
			other := j.sections[o%len(j.sections)][:len(sparse)]
			for i := range sparse {
				sparse[i] &= other[i]
			}
		}
		for i, w := range inside {
			solid[i] = w &^ sparse[i]
		}
	}
	full, part := float64(solid.count()), float64(sparse.count())
	if full+part > 0 {
		// In shares of the inside, which without walls is the exact section.
		l.solid, l.sparse = l.inside*full/(full+part), l.inside*part/(full+part)
	} else {
		l.solid = l.inside
	}
	solidSpeed, infillSpeed := j.m.Solid, j.m.Infill
	if k == 0 {
		solidSpeed, infillSpeed = math.Min(solidSpeed, j.m.First), math.Min(infillSpeed, j.m.First)
	}
	if l.solid > 0 {
		along, across := j.g.runs(solid)
		l.seconds += hatch(&j.g, l.solid, along, across, j.s.Line, solidSpeed, j.m.Limits)
	}
	if l.sparse > 0 && j.s.Infill > 0 {
		along, across := j.g.runs(sparse)
		l.seconds += hatch(&j.g, l.sparse, along, across, j.s.Line/j.s.Infill, infillSpeed, j.m.Limits)
	}
	if l.inside > 0 {
		l.seconds += motion.Trap(math.Sqrt(l.inside)/2, 0, 0, j.m.Travel, j.m.Acceleration)
	}
}

// sum adds up the layers, in their order.
func (j *job) sum() Estimate {
	e := Estimate{Layers: len(j.layers), Basis: Model}
	open, overlap := 0, 0
	for k := range j.layers {
		l := &j.layers[k]
		h := l.height
		e.Section += l.section * h
		e.Kinds.Outline += l.outline * h
		e.Kinds.Wall += (l.section - l.inside - l.outline) * h
		e.Kinds.Solid += l.solid * h
		e.Kinds.Infill += l.sparse * j.s.Infill * h
		e.Kinds.Support += l.support * j.s.SupportDensity * h
		seconds := l.seconds + layerChange
		if k == 0 {
			seconds += j.brimTime
		}
		e.Seconds += math.Max(seconds, j.m.MinLayer)
		if l.open > 0 {
			open++
		}
		if l.overlap {
			overlap++
		}
	}
	e.Kinds.Brim = j.brim * j.s.FirstLayer
	e.Plastic = e.Kinds.Sum()
	if open > 0 {
		e.Notes = append(e.Notes, fmt.Sprintf("%d of %d layers have outlines that do not close; what they would hold is left out", open, len(j.layers)))
	}
	if overlap > 0 {
		e.Notes = append(e.Notes, fmt.Sprintf("shells overlap in %d of %d layers; what they share is counted once", overlap, len(j.layers)))
	}
	return e
}
