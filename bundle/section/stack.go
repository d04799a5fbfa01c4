package section

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"dropwright/bundle/mesh"
)

// maxPlanes bounds a stack: a metre in layers of 0.01 mm has 100 000 planes.
const maxPlanes = 1 << 20

// Stack is a mesh made ready to be cut by ascending parallel planes: triangles are sorted into
// groups of neighbouring planes once, and any plane can then be cut at the cost of its own group.
// A Stack is not changed after NewStack; several goroutines may cut it, each into its own Section.
// It costs 4 bytes a vertex and about 4 bytes a triangle (24 more a vertex off the main axes).
type Stack struct {
	mesh   *mesh.Mesh
	frame  Frame
	planes []float64

	iu, iv, iw int          // columns of mesh.Vertices when turned is nil
	turned     [][3]float64 // vertices in the frame, for frames off the main axes

	// below[v] counts the planes at or below vertex v, so "v is above plane k" is below[v] > k and
	// every later step works on integers: neighbours can never disagree about a vertex.
	below []uint32

	// whole also lists triangles that no plane cuts, in the groups of the slabs that they reach
	// (slab k lies under plane k), so that heights between planes can be looked at afterwards.
	whole    bool
	perGroup int      // planes in a group
	start    []uint32 // group g holds entries[start[g]:start[g+1]]
	entries  []uint32 // triangle numbers, ascending inside a group
}

// NewStack prepares m for cutting at the given heights along the frame's W, which must be finite
// and ascending (equal heights are allowed). Workers <= 0 means one for each processor; the number
// does not change the result. Neither m nor planes may be changed while the Stack is in use.
func NewStack(m *mesh.Mesh, f Frame, planes []float64, workers int) (*Stack, error) {
	return newStack(m, f, planes, workers, false)
}

func newStack(m *mesh.Mesh, f Frame, planes []float64, workers int, whole bool) (*Stack, error) {
	if len(planes) > maxPlanes {
		return nil, fmt.Errorf("%d planes are more than %d; choose thicker layers or a smaller part", len(planes), maxPlanes)
	}
	for k, z := range planes {
		if math.IsNaN(z) || math.IsInf(z, 0) || k > 0 && z < planes[k-1] {
			return nil, fmt.Errorf("plane %d at %v is not finite or lower than the one before; give ascending heights", k, z)
		}
	}
	if uint64(len(m.Triangles)) > math.MaxUint32 {
		return nil, fmt.Errorf("%d triangles are more than can be numbered; split the mesh", len(m.Triangles))
	}
	s := &Stack{mesh: m, frame: f, planes: planes, whole: whole}
	workers = workerCount(workers)
	if a := f.mainAxis(); a >= 0 {
		s.iu, s.iv, s.iw = (a+1)%3, (a+2)%3, a
	} else {
		s.turn(workers)
	}
	s.rank(workers)
	s.sort(workers)
	return s, nil
}

// LayerPlanes returns the middle heights of layers of the given thickness on a solid from lo to hi:
// plane k lies at lo + (k+1/2)·thickness. A layer exists if its middle is below hi by more than
// 1e-6 mm, and there is always at least one: so a plate thinner than half a layer still prints one.
func LayerPlanes(lo, hi, thickness float64) ([]float64, error) {
	if !(thickness > 0) || math.IsInf(thickness, 0) {
		return nil, fmt.Errorf("layer thickness %v must be a number above zero", thickness)
	}
	if math.IsNaN(hi-lo) || math.IsInf(hi-lo, 0) || hi < lo {
		return nil, fmt.Errorf("height from %v to %v is not a range", lo, hi)
	}
	if (hi-lo)/thickness > maxPlanes-2 {
		return nil, fmt.Errorf("%v mm in layers of %v mm are more than %d layers; choose thicker layers", hi-lo, thickness, maxPlanes)
	}
	var planes []float64
	for k := 0; k == 0 || (float64(k)+0.5)*thickness < hi-lo-1e-6; k++ {
		planes = append(planes, lo+(float64(k)+0.5)*thickness)
	}
	return planes, nil
}

// Len returns the number of planes.
func (s *Stack) Len() int { return len(s.planes) }

// Plane returns the height of plane k, 0 <= k < Len().
func (s *Stack) Plane(k int) float64 { return s.planes[k] }

// Frame returns the frame that the stack was made with.
func (s *Stack) Frame() Frame { return s.frame }

// Cut fills into with the section at plane k, 0 <= k < Len(). Segments come in the order of their
// triangles. Whatever into held is overwritten, its memory is used again; a zero Section will do.
func (s *Stack) Cut(k int, into *Section) {
	into.reset(s.planes[k])
	if len(s.entries) == 0 {
		return
	}
	s.cut(s.slab(k), uint32(k), s.planes[k], into)
}

// slab lists at least all triangles that plane k cuts; in a whole Stack all that reach the slab
// between planes k-1 and k, where k may also be Len().
func (s *Stack) slab(k int) []uint32 {
	g := k / s.perGroup
	return s.entries[s.start[g]:s.start[g+1]]
}

// slabOf returns the number of planes at or below z.
func (s *Stack) slabOf(z float64) int {
	k, found := slices.BinarySearch(s.planes, z)
	for found && k < len(s.planes) && s.planes[k] <= z {
		k++
	}
	return k
}

// Each cuts every plane and calls visit once for each, on several goroutines and in no fixed
// order; a goroutine gets runs of neighbouring planes. The Section belongs to the callee only until
// it returns. A visit that writes its results at index k makes a result independent of the workers.
func (s *Stack) Each(workers int, visit func(k int, sec *Section)) {
	const run = 4 // planes a worker takes at once: the size of a group, so that its triangles stay in cache
	sections := make(chan *Section, workerCount(workers))
	for range cap(sections) {
		sections <- new(Section)
	}
	parallelRuns(workers, len(s.planes), run, func(k int) {
		sec := <-sections
		s.Cut(k, sec)
		visit(k, sec)
		sections <- sec
	})
}

// at returns vertex v in the frame.
func (s *Stack) at(v uint32) (x, y, z float64) {
	if s.turned != nil {
		p := &s.turned[v]
		return p[0], p[1], p[2]
	}
	p := &s.mesh.Vertices[v]
	return float64(p[s.iu]), float64(p[s.iv]), float64(p[s.iw])
}

func (s *Stack) height(v int) float64 {
	if s.turned != nil {
		return s.turned[v][2]
	}
	return float64(s.mesh.Vertices[v][s.iw])
}

func (s *Stack) turn(workers int) {
	s.turned = make([][3]float64, len(s.mesh.Vertices))
	split(len(s.turned), workers, func(_, from, to int) {
		for i := from; i < to; i++ {
			p := s.mesh.Vertices[i]
			q := [3]float64{float64(p[0]), float64(p[1]), float64(p[2])}
			s.turned[i][0], s.turned[i][1], s.turned[i][2] = s.frame.In(q)
		}
	})
}

// unranked marks a vertex that is not finite; its triangles are never cut.
const unranked = math.MaxUint32

// rank counts for every vertex the planes at or below it. A table over even cells gives the first
// guess; planes are few and mostly even, so the walk from the guess is short.
func (s *Stack) rank(workers int) {
	n := len(s.planes)
	s.below = make([]uint32, len(s.mesh.Vertices))
	if n == 0 {
		return
	}
	lo, hi := s.planes[0], s.planes[n-1]
	cells := 4 * n
	perMM := 0.0
	if hi > lo {
		perMM = float64(cells) / (hi - lo)
		if math.IsInf(perMM, 0) {
			perMM = 0
		}
	}
	guess := make([]uint32, cells+1) // planes at or below the lower end of the cell, less one for rounding
	for c, k := 0, 0; c <= cells; c++ {
		z := math.Inf(-1)
		if perMM > 0 {
			z = lo + (float64(c)-0.5)/perMM
		}
		for k < n && s.planes[k] <= z {
			k++
		}
		guess[c] = uint32(k)
	}
	split(len(s.below), workers, func(_, from, to int) {
		for v := from; v < to; v++ {
			z := s.height(v)
			switch {
			case z < lo:
			case z >= hi && z <= math.MaxFloat64:
				s.below[v] = uint32(n)
			case z < hi:
				k := guess[int((z-lo)*perMM)]
				for s.planes[k] <= z {
					k++
				}
				s.below[v] = k
			default:
				s.below[v] = unranked
			}
			if x, y, _ := s.at(uint32(v)); math.IsNaN(x-x) || math.IsNaN(y-y) || math.IsInf(z, 0) {
				s.below[v] = unranked
			}
		}
	})
}

// span returns the planes that cut a triangle (in a whole Stack: the slabs it reaches): from <= k < to.
func (s *Stack) span(t [3]uint32) (from, to uint32) {
	from = s.below[t[0]]
	to = from
	for _, v := range t[1:] {
		b := s.below[v]
		if b < from {
			from = b
		}
		if b > to {
			to = b
		}
	}
	if to == unranked {
		return 0, 0
	}
	if s.whole {
		to++
	}
	return from, to
}

// sort puts the triangles into groups of planes by counting. Every worker has a fixed run of
// triangles and its own places, so entries come out in triangle order whatever the worker count.
func (s *Stack) sort(workers int) {
	tris := s.mesh.Triangles
	if len(s.planes) == 0 || len(tris) == 0 {
		return
	}
	slabs := len(s.planes)
	if s.whole {
		slabs++
	}
	// A few thousand triangles may be listed as often as they like; the list stays below 4 MB.
	most := max(8*uint64(len(tris)), 1<<20)
	s.perGroup = 4
	if s.whole {
		s.perGroup = 1 // the lists are read again and again, so they had better be short
	}
	// Triangles much taller than a layer are listed once in every group they reach; larger groups
	// keep the list short.
	for ; ; s.perGroup *= 2 {
		groups := (slabs + s.perGroup - 1) / s.perGroup
		counts := make([][]uint32, workers)
		var total atomic.Uint64
		split(len(tris), workers, func(w, from, to int) {
			count, sum := make([]uint32, groups), uint64(0)
			for _, t := range tris[from:to] {
				if a, b := s.span(t); a < b {
					first, last := a/uint32(s.perGroup), (b-1)/uint32(s.perGroup)
					for g := first; g <= last; g++ {
						count[g]++
					}
					sum += uint64(last - first + 1)
				}
			}
			counts[w] = count
			total.Add(sum)
		})
		if groups > 1 && total.Load() > most {
			continue
		}
		s.start = make([]uint32, groups+1)
		place := uint32(0)
		for g := range groups {
			s.start[g] = place
			for _, count := range counts {
				if count != nil {
					n := count[g]
					count[g] = place
					place += n
				}
			}
		}
		s.start[groups] = place
		s.entries = make([]uint32, place)
		split(len(tris), workers, func(w, from, to int) {
			put := counts[w]
			for i := from; i < to; i++ {
				if a, b := s.span(tris[i]); a < b {
					for g, last := a/uint32(s.perGroup), (b-1)/uint32(s.perGroup); g <= last; g++ {
						s.entries[put[g]] = uint32(i)
						put[g]++
					}
				}
			}
		})
		return
	}
}

func workerCount(n int) int {
	if n <= 0 {
		n = runtime.GOMAXPROCS(0)
	}
	return n
}

// parallel runs f(0) … f(workers-1) and waits for all.
func parallel(workers int, f func(w int)) {
	if workers <= 1 {
		f(0)
		return
	}
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() { f(w) })
	}
	wg.Wait()
}

// parallelRuns calls f for 0 … n-1 in runs of neighbours, each run on the next free worker.
func parallelRuns(workers, n, run int, f func(i int)) {
	var next atomic.Int64
	parallel(min(workerCount(workers), (n+run-1)/run), func(int) {
		for {
			i := int(next.Add(int64(run))) - run
			if i >= n {
				return
			}
			for end := min(i+run, n); i < end; i++ {
				f(i)
			}
		}
	})
}

// split cuts 0 … n-1 into one run a worker.
func split(n, workers int, f func(w, from, to int)) {
	const small = 4096 // below this, starting goroutines costs more than the work
	if n < small {
		f(0, 0, n)
		return
	}
	parallel(workers, func(w int) { f(w, n*w/workers, n*(w+1)/workers) })
}
