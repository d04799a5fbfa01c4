package measure

import (
	"bytes"
	"cmp"
	"io/fs"
	"math"
	"slices"
	"strings"
	"sync"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/same"
	"dropwright/bundle/mesh/threemf"
	"dropwright/bundle/section"
)

// scanner collects facts.Scan while the files of a design are measured.
type scanner struct {
	fsys   fs.FS
	d      *design.Design
	house  *design.House
	lock   sync.Mutex
	out    facts.Scan
	shapes map[string]same.Shape
}

func newScanner(fsys fs.FS, d *design.Design, house *design.House) *scanner {
	return &scanner{fsys: fsys, d: d, house: house, shapes: map[string]same.Shape{}}
}

// commonBed is the bed that a part should fit if most people are to print it: the smallest that is common
// among desktop printers. Common practice, no source.
var commonBed = [3]float64{180, 180, 180}

// solid looks at one mesh that was read.
func (s *scanner) solid(f facts.Mesh, m *mesh.Mesh) {
	if m == nil || len(m.Triangles) == 0 {
		return
	}
	users := s.users(f.File)
	x := facts.Solid{File: f.File, Limit: defaultLimit}
	for _, p := range users {
		if l := p.Print.Over(s.house.Print).LimitAngle; l.Set() {
			x.Limit = float64(l.V)
			break
		}
	}
	six := mesh.StandOn(m, x.Limit)
	for i, t := range six {
		x.Faces[i] = facts.Stand{Face: string(t.Face), Contact: t.Contact, Overhang: t.Overhang, Height: t.Height}
	}
	x.Best = string(mesh.BestFace(six).Face)
	for _, p := range users {
		face := p.StandOn.Or("-z")
		if _, done := x.StoodOn(string(face)); !done {
			x.Stood = append(x.Stood, stoodOn(m, face))
		}
		if len(p.Size) == 3 && f.Size != nil && x.UnitBySize == "" {
			x.UnitBySize = mesh.UnitAgainst(*f.Size, [3]float64{float64(p.Size[0].V), float64(p.Size[1].V), float64(p.Size[2].V)})
		}
	}
	if f.Watertight != nil && *f.Watertight {
		w := mesh.MeasureWalls(m)
		x.ThinAt = w.At
		for i := range thinSteps {
			x.Thin = append(x.Thin, math.Round(w.Below(float64(i+1)/10)*100)/100)
		}
	}
	if f.Shells != nil && *f.Shells > 1 {
		rep, _ := mesh.Inspect(m)
		for _, b := range rep.List {
			x.Bodies = append(x.Bodies, facts.Body{Triangles: b.Triangles, Min: b.Min, Max: b.Max, Volume: b.Volume, Closed: b.Closed, Depth: b.Depth, Void: b.Void, WrongSign: b.WrongSign, Overlaps: b.Overlaps})
		}
		groupBodies(m, x.Bodies)
	}
	shape := same.ShapeOf(m)
	var pack *facts.Package
	if f.Format == "3mf" {
		pack = s.packageOf(f.File)
	}
	s.lock.Lock()
	defer s.lock.Unlock()
	s.out.Solids = append(s.out.Solids, x)
	s.shapes[f.File] = shape
	if pack != nil {
		s.out.Packages = append(s.out.Packages, *pack)
	}
}

// thinSteps is how many thicknesses thin surface is summed for: 0.1 to 1.2 mm, the largest figure that print
// services publish as their thinnest wall (1.2, see bundle/hardware's sources).
const thinSteps = 12

// users are the parts that a mesh is printed as.
func (s *scanner) users(file string) []design.Part {
	var out []design.Part
	for _, p := range s.d.Parts {
		for _, v := range p.Mesh.Values() {
			if string(v.V) == file && p.Role.V != "reference" {
				out = append(out, p)
				break
			}
		}
	}
	return out
}

// stoodOn puts a mesh on one of its faces and looks at what is just above the bed.
func stoodOn(m *mesh.Mesh, face design.Face) facts.Stood {
	out := facts.Stood{Face: string(face), Common: mesh.FitsBed(standing(m, face), commonBed).Fits}
	axis, up := int(face[1]-'x'), -1.0
	if face[0] == '-' {
		up = 1
	}
	low := math.Inf(1)
	for _, t := range m.Triangles {
		for _, id := range t {
			low = min(low, up*float64(m.Vertices[id][axis]))
		}
	}
	if face == "-z" {
		out.OffBed = math.Round(low*1000) / 1000
	}
	out.Ledges = ledges(m, axis, up, low)
	return out
}

// What counts as a flat underside a little above the bed; assumed.
const (
	ledgeFrom  = 0.02  // mm above the bed: below it is rounding of coordinates
	ledgeTo    = 1.0   // mm: several usual layers
	ledgeFlat  = 0.005 // mm that the corners of a level facet may differ
	ledgeLeast = 2.0   // mm2: the first lines of plastic cover what is smaller
)

// ledges sums flat undersides that lie a little above the bed, by their height. axis and up give the
// direction away from the bed, low the height of the bed along it.
func ledges(m *mesh.Mesh, axis int, up, low float64) []facts.Ledge {
	sums := map[int]*facts.Ledge{}
	for _, t := range m.Triangles {
		var p [3][3]float64
		var h [3]float64
		for k, id := range t {
			for a, x := range m.Vertices[id] {
				p[k][a] = float64(x)
			}
			h[k] = up*p[k][axis] - low
		}
		if h[0] < ledgeFrom || h[0] > ledgeTo || math.Abs(h[1]-h[0]) > ledgeFlat || math.Abs(h[2]-h[0]) > ledgeFlat {
			continue
		}
		b, c := (axis+1)%3, (axis+2)%3 // the component of the normal along the axis is twice the area seen from there
		n := (p[1][b]-p[0][b])*(p[2][c]-p[0][c]) - (p[1][c]-p[0][c])*(p[2][b]-p[0][b])
		if n*up >= 0 {
			continue // it looks up
		}
		k := int(math.Round(h[0] * 100))
		if sums[k] == nil {
			sums[k] = &facts.Ledge{Height: float64(k) / 100, At: p[0]}
		}
		sums[k].Area += math.Abs(n) / 2
	}
	var out []facts.Ledge
	for _, l := range sums {
		if l.Area = math.Round(l.Area*100) / 100; l.Area >= ledgeLeast {
			out = append(out, *l)
		}
	}
	slices.SortFunc(out, func(a, b facts.Ledge) int { return cmp.Compare(a.Height, b.Height) })
	return out
}

// packageOf reads what a 3MF file says of itself; nil when it cannot be read, which is said of the mesh.
func (s *scanner) packageOf(name string) *facts.Package {
	data, err := readAll(s.fsys, name, MaxMesh)
	if err != nil {
		return nil
	}
	m, err := threemf.Decode(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil
	}
	out := &facts.Package{File: name, Items: len(m.Build)}
	for _, g := range m.Materials {
		for _, x := range g.Materials {
			if !slices.Contains(out.Materials, x.Name) {
				out.Materials = append(out.Materials, x.Name)
			}
		}
	}
	for _, x := range m.Metadata {
		if x.Where != "model" {
			continue
		}
		switch x.Name { // names of the core specification 1.3.0, table 8
		case "LicenseTerms":
			out.Licence = strings.TrimSpace(x.Value)
		case "Designer":
			out.Designer = strings.TrimSpace(x.Value)
		case "Copyright":
			out.Copyright = strings.TrimSpace(x.Value)
		}
	}
	return out
}

// finish compares what was collected and returns it in order. shapes holds the holes of meshes where fit
// wanted them.
func (s *scanner) finish(shapes *shapes) facts.Scan {
	slices.SortFunc(s.out.Solids, func(a, b facts.Solid) int { return cmp.Compare(a.File, b.File) })
	slices.SortFunc(s.out.Packages, func(a, b facts.Package) int { return cmp.Compare(a.File, b.File) })
	slices.SortStableFunc(s.out.Leaks, func(a, b facts.Leak) int { return cmp.Compare(a.File, b.File) })
	slices.Sort(s.out.Pointers)
	for i := range s.out.Solids {
		x := &s.out.Solids[i]
		if shape := shapes.byFile[x.File]; shape != nil {
			var round []float64
			for k := range shape.Holes {
				if h := &shape.Holes[k]; h.Kind == section.Round {
					round = append(round, h.Diameter)
				}
			}
			x.UnitByHoles = mesh.SuspectUnitByHoles(round)
		}
		for _, y := range s.out.Solids[i+1:] {
			if s.shapes[x.File].Near(s.shapes[y.File]) {
				s.compare(x.File, y.File)
			}
		}
	}
	return s.out
}

// compare reads two meshes again that are likely one shape, so that no mesh need stay in memory.
func (s *scanner) compare(a, b string) {
	_, x := meshAndSolid(s.fsys, a, Options{})
	_, y := meshAndSolid(s.fsys, b, Options{})
	if x == nil || y == nil {
		return
	}
	r := same.Compare(x, y, same.Options{})
	if r.Kind == same.Changed {
		return
	}
	own := same.Compare(x, mesh.Mirror(x), same.Options{}).Kind
	s.out.Alike = append(s.out.Alike, facts.Alike{A: a, B: b, Kind: string(r.Kind), Symmetric: own != same.Changed && own != same.Mirrored})
}
