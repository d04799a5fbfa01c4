package adopt

import (
	"bytes"
	"cmp"
	"fmt"
	"io/fs"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"dropwright/bundle/board"
	"dropwright/bundle/facts"
	"dropwright/bundle/fit"
	"dropwright/bundle/measure"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/same"
	"dropwright/bundle/mesh/threemf"
	"dropwright/bundle/section"
	"dropwright/bundle/unit"
)

// solid is one mesh file, measured.
type solid struct {
	file  string
	name  fileName
	facts facts.Mesh
	// What follows is empty for a file that cannot be read.
	sig      same.Shape
	print    string     // fingerprint
	mesh     *mesh.Mesh // until its holes were looked at; nil where it is to be read again
	sculpted bool       // it has many facets and no flat face: not searched for holes
	closed   bool       // it is one sound solid, whose holes can be relied on
	shape    *fit.Shape // nil where the mesh is not closed, or is no part
	unit     string     // "inch", "centimetre", "metre": the mesh was brought to millimetres for the census
	bodies   []body     // for several shells
	seats    []seating  // boards whose mounts meet holes
	fans     []facts.FanSeat
	pack     *packFacts // of a 3MF
	age      int64      // of its last change in history, 0: not known
}

// body is one shell of a mesh.
type body struct{ volume float64 }

// seating is a board that sits in a mesh by its mounts.
type seating struct {
	id   string
	seat facts.Seat
	// openPorts and ports count the profile's ports that reach the open.
	openPorts, ports int
}

// packFacts is what a 3MF says of itself in the open fields of the core specification.
type packFacts struct {
	title, licence, designer, description string
	materials                             []string
	colours                               []string // of materials, #RRGGBB
	items                                 int
}

// largestPack is the largest 3MF whose own words are read, in bytes; its mesh is read in any case.
const largestPack = 128 << 20

// measureAll measures the meshes of a folder on several processors; the result is in the order of the files. Their
// holes are looked at later, and only where a mesh became a candidate for a part.
func measureAll(fsys fs.FS, l *listing, opt Options) []*solid {
	var files []file
	var sum int64
	for _, f := range l.of(meshFile) {
		if sum += f.bytes; len(files) >= maxMeshes || sum > maxBytes {
			l.notes = append(l.notes, fmt.Sprintf("more than %d meshes or %d bytes of meshes: %s and what follows was not measured", maxMeshes, int64(maxBytes), f.path))
			break
		}
		files = append(files, f)
	}
	out := make([]*solid, len(files))
	var held atomic.Int64
	opt.each(len(files), func(i int) string {
		out[i] = measureOne(fsys, files[i], opt, &held)
		return files[i].path
	})
	return slices.DeleteFunc(out, func(s *solid) bool { return s == nil })
}

// each does a job for every i below n on several workers, tells of progress, and begins no more when it is to stop.
func (o Options) each(n int, job func(i int) (file string)) {
	var lock sync.Mutex
	done := 0
	next := make(chan int)
	var wg sync.WaitGroup
	workers := o.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	for range min(workers, max(1, n)) {
		wg.Go(func() {
			for i := range next {
				file := job(i)
				if o.Progress != nil {
					lock.Lock()
					done++
					o.Progress(done, n, file)
					lock.Unlock()
				}
			}
		})
	}
	for i := range n {
		if o.stopped() {
			break
		}
		next <- i
	}
	close(next)
	wg.Wait()
}

// lookAtHoles takes the census of the candidates' meshes.
func (r *reader) lookAtHoles(cands []*candidate) {
	var want []*solid
	for _, c := range cands {
		if c.closed && c.alias == nil && len(c.inside) == 0 {
			want = append(want, c.solid)
		}
	}
	defer func() {
		for _, c := range cands {
			c.mesh = nil
		}
	}()
	// The smaller first: what is screwed together has fewer facets than what is sculpted.
	slices.SortStableFunc(want, func(a, b *solid) int { return cmp.Compare(a.facts.Triangles, b.facts.Triangles) })
	sum := 0
	for i, s := range want {
		if sum += s.facts.Triangles; sum > maxFacets {
			r.list.notes = append(r.list.notes, fmt.Sprintf("more than %d facets: %s were not searched for holes", maxFacets, unit.Count(len(want)-i, "mesh file")))
			want = want[:i]
			break
		}
	}
	r.opt.each(len(want), func(i int) string {
		s := want[i]
		m := s.mesh
		if m == nil {
			_, m = measure.Solid(r.fsys, s.file)
		}
		if s.mesh = nil; m != nil {
			s.census(m, r.profiles)
		}
		return s.file
	})
	for _, s := range want {
		if s.sculpted {
			r.list.notes = append(r.list.notes, s.file+" has no flat face and was not searched for holes")
		}
	}
}

func measureOne(fsys fs.FS, f file, opt Options, held *atomic.Int64) *solid {
	s := &solid{file: f.path, name: nameOf(f.path, opt.colours()), age: opt.Ages[f.path]}
	var m *mesh.Mesh
	s.facts, m = measure.Solid(fsys, f.path)
	if strings.HasSuffix(strings.ToLower(f.path), ".3mf") && f.bytes <= largestPack {
		s.pack = packOfFile(fsys, f.path)
	}
	if m == nil || len(m.Triangles) == 0 {
		return s
	}
	s.sig, s.print = same.ShapeOf(m), same.Fingerprint(m)
	if n := s.facts.Shells; n != nil && *n > 1 && *n <= 200 {
		rep, _ := mesh.Inspect(m)
		for _, b := range rep.List {
			if !b.Void && b.Closed {
				s.bodies = append(s.bodies, body{volume: math.Abs(b.Volume)})
			}
		}
	}
	s.closed = s.facts.Watertight != nil && *s.facts.Watertight && (s.facts.InsideOut == nil || !*s.facts.InsideOut)
	if s.closed && held.Add(int64(len(m.Triangles))) <= mostHeld {
		s.mesh = m
	}
	return s
}

// mostHeld is how many facets are kept in memory until their holes are looked at, so that small meshes need not be
// read twice: 52 bytes each.
const mostHeld = 4_000_000

// factors bring a mesh to millimetres.
var factors = map[string]float64{"inch": 25.4, "centimetre": 10, "metre": 1000}

// census takes the holes of a closed mesh, and lays boards and fans on them. A mesh that is not in millimetres by
// all appearances is brought there first, so that its holes say what they are for.
func (s *solid) census(m *mesh.Mesh, profiles []*board.Profile) {
	if s.sculpted = len(m.Triangles) > manyFacets && !hasFlats(m); s.sculpted {
		return
	}
	shape, err := fit.ShapeOf(m)
	if err != nil {
		return
	}
	unit := ""
	if s.facts.UnitSuspect != nil {
		unit = *s.facts.UnitSuspect
	} else {
		var round []float64
		for i := range shape.Holes {
			if shape.Holes[i].Kind == section.Round {
				round = append(round, shape.Holes[i].Diameter)
			}
		}
		unit = mesh.SuspectUnitByHoles(round)
	}
	if f := factors[unit]; f > 0 {
		big := mesh.Transform(m, mesh.Scale(f))
		if scaled, err := fit.ShapeOf(big); err == nil {
			shape, m, s.unit = scaled, big, unit
		}
	}
	s.shape = shape
	if len(shape.Holes) < 2 {
		return
	}
	for _, p := range profiles {
		if !mayHold(shape, p) {
			continue
		}
		seat := fit.SeatOf(fit.SeatInput{Profile: p, Census: &shape.Census, Mesh: m})
		if seat.State != facts.SeatFound || seat.Pose == nil {
			continue
		}
		x := seating{id: p.ID.S, seat: seat}
		for _, port := range seat.Ports {
			if port.Verdict == facts.PortUnknown {
				continue
			}
			x.ports++
			if port.Verdict != facts.PortBlocked {
				x.openPorts++
			}
		}
		s.seats = append(s.seats, x)
	}
	for _, frame := range fanFrames {
		if f := fit.FanIn(&shape.Census, frame); f.Found > 0 && f.Off <= 0.4 && f.Opening != nil && *f.Opening > frame/2 && f.Centred <= 2 {
			s.fans = append(s.fans, f)
		}
	}
}

// manyFacets is from where on a mesh is looked at for flat faces first: to search a sculpted one for holes takes ten
// times as long for each facet as an enclosure (measured), and finds none.
const manyFacets = 50_000

// hasFlats tells whether a mesh has faces for screws to sit on: six directions hold a twentieth of its surface at least.
func hasFlats(m *mesh.Mesh) bool {
	sums := map[[3]int8]float64{}
	all := 0.0
	for _, t := range m.Triangles {
		var a, b [3]float64
		for k := range 3 {
			o := float64(m.Vertices[t[0]][k])
			a[k], b[k] = float64(m.Vertices[t[1]][k])-o, float64(m.Vertices[t[2]][k])-o
		}
		n := [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
		l := math.Sqrt(n[0]*n[0] + n[1]*n[1] + n[2]*n[2])
		if !(l > 0) {
			continue
		}
		var key [3]int8
		for k := range 3 {
			key[k] = int8(math.Round(n[k] / l * 120))
		}
		sums[key] += l
		all += l
	}
	var areas []float64
	for _, x := range sums {
		areas = append(areas, x)
	}
	slices.Sort(areas)
	sum := 0.0
	for _, x := range areas[max(0, len(areas)-6):] {
		sum += x
	}
	return sum >= all/20
}

// fanFrames are the frames that are tried, mm: those of the tables.
var fanFrames = []float64{25, 30, 35, 40, 50, 60, 70, 80, 92, 120, 140}

// mayHold tells by sizes alone whether a board may sit in a part: it has as many holes as mounts, and the mounts
// lie within it.
func mayHold(s *fit.Shape, p *board.Profile) bool {
	pts := p.MountPoints()
	if len(pts) < 3 || len(s.Holes)+len(s.Bosses) < len(pts)-1 {
		return false
	}
	span := 0.0
	for i := range pts {
		for j := range i {
			span = max(span, math.Hypot(pts[i][0]-pts[j][0], pts[i][1]-pts[j][1]))
		}
	}
	a := slices.Clone(s.Size[:])
	slices.Sort(a)
	return math.Hypot(a[1], a[2]) >= span
}

func packOfFile(fsys fs.FS, name string) *packFacts {
	data, err := readUpTo(fsys, name, largestPack)
	if err != nil {
		return nil
	}
	m, err := threemf.Decode(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil
	}
	out := &packFacts{items: len(m.Build)}
	for _, g := range m.Materials {
		for _, x := range g.Materials {
			if n := strings.TrimSpace(x.Name); n != "" && !slices.Contains(out.materials, n) && len(out.materials) < 20 {
				out.materials = append(out.materials, n)
				out.colours = append(out.colours, strings.ToLower(x.Color.String()))
			}
		}
	}
	for _, x := range m.Metadata {
		if x.Where != "model" {
			continue
		}
		v := strings.TrimSpace(x.Value)
		switch x.Name { // names of the core specification 1.3.0, table 8
		case "Title":
			out.title = v
		case "LicenseTerms":
			out.licence = v
		case "Designer":
			out.designer = v
		case "Description":
			out.description = v
		}
	}
	return out
}
