package mesh

import (
	"fmt"
	"runtime"
	"runtime/debug"
)

// Survey welds s and inspects the mesh in one pass over the data: while one goroutine welds and
// pairs the edges, another adds up the sums and calls also (which may be nil) for each run of facets [from, to), in order and
// just before it reads them, so that a hash of the file finds the bytes on the way. The report and the mesh
// are those of Weld and Inspect. A coordinate that is not finite is an error (*NotFiniteError); so is a
// failing read of mapped memory (*FaultError).
func Survey(s Soup, also func(from, to int)) (Report, *Mesh, error) {
	n := s.Len()
	if n > MaxTriangles {
		return Report{}, nil, fmt.Errorf("%d triangles are more than the %d that are worked on", n, MaxTriangles)
	}
	var m *Mesh
	var c *census
	var table scratch[uint32]
	var y *tally
	var topologyErr error
	b := newBuilder(n, n) // the labels of the facets will take over the table
	var pages prefault
	done := make(chan struct{})
	topology := func() {
		defer close(done)
		if topologyErr = Guard(func() error { m, table, y = weld(s, b); return nil }); topologyErr == nil {
			c = censusOf(m, y, table)
		}
	}
	if runtime.GOMAXPROCS(0) > 1 {
		pages = prefaultFor(b)
		go topology()
	} else {
		topology()
	}
	f := frame{}
	t := newTotals()
	err := Guard(func() error {
		if n > 0 {
			f = guessFrame(s)
		}
		for from := 0; from < n; from += sumChunk {
			to := min(from+sumChunk, n)
			pages.upTo(to)
			if also != nil {
				also(from, to)
			}
			t.add(s, from, to, from, f)
		}
		if t.bad >= 0 {
			return notFinite(s, t.bad, t.bad)
		}
		return nil
	})
	<-done
	if c != nil {
		defer c.free()
	}
	if err == nil {
		err = topologyErr
	}
	if err != nil {
		return Report{}, nil, err
	}
	whole := boxOfVertices(m)
	if right := frameFor(whole); right != f {
		f, t = right, newTotals()
		if err := Guard(func() error { t.add(s, 0, n, 0, f); return nil }); err != nil {
			return Report{}, nil, err
		}
	}
	r, m := inspect(m, c, whole, f, &t)
	return r, m, nil
}

// prefault has the kernel clear the pages that the weld is about to write, a little ahead of it. The
// weld is the longer of the two goroutines, and without this it would spend a third of its time waiting
// for that.
type prefault struct {
	triangles, vertices []byte // not yet entered
	done                [2]int // bytes entered
}

func prefaultFor(b *Builder) prefault {
	return prefault{triangles: bytesOf(b.triangles[:cap(b.triangles)]), vertices: bytesOf(b.w.vertices)}
}

// upTo enters the pages for the first n facets, their vertices, of which a closed mesh has half as many,
// and some more.
func (p *prefault) upTo(n int) {
	const each = 12 // bytes of a facet and of a vertex
	p.done[0] = enter(p.triangles, p.done[0], each*n+2*hugePage)
	p.done[1] = enter(p.vertices, p.done[1], each*n/2+hugePage)
}

// enter is done with the first bytes of b and does as many more large pages as it takes to be at `to`.
func enter(b []byte, done, to int) int {
	for done < min(to, len(b)) {
		next := min(done+hugePage, len(b))
		if !populate(b[done:next]) {
			return len(b) // this kernel does not know how
		}
		done = next
	}
	return done
}

// FaultError reports that mapped memory could not be read: the file was cut short meanwhile, or its
// disk failed.
type FaultError struct{ Cause error }

func (e *FaultError) Error() string {
	return "the file changed or its disk failed while it was read; measure it again"
}

func (e *FaultError) Unwrap() error { return e.Cause }

// Guard runs do, which reads memory mapped from a file, and turns a fault of that memory into a
// *FaultError; without it the whole program would end. It holds for the calling goroutine only.
// Other panics go on.
func Guard(do func() error) (err error) {
	old := debug.SetPanicOnFault(true)
	defer debug.SetPanicOnFault(old)
	defer func() {
		if p := recover(); p != nil {
			fault, ok := p.(interface {
				error
				Addr() uintptr // only memory faults have an address (runtime/debug.SetPanicOnFault)
			})
			if !ok {
				panic(p)
			}
			err = &FaultError{fault}
		}
	}()
	return do()
}
