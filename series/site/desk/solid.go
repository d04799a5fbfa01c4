package desk

import (
	"encoding/base64"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"math"
	"path"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/mesh"
	"dropwright/bundle/picture"
	"dropwright/series/site"
)

// MaxShown is how many triangles of a mesh are sent to a browser: two to three megabytes, which a phone turns without
// a pause (assumed). A finer mesh is made coarser, and the page says so.
const MaxShown = 150_000

// MaxMesh is the largest mesh that is shown at all, in triangles; the still pictures have the same limit.
const MaxMesh = 5_000_000

// A solid as a browser gets it. All numbers are little-endian:
//
//	 0  "dws1"
//	 4  u32 vertices, u32 triangles, u32 lines, u32 triangles of the file
//	20  f32 x3 place of the box's least corner, mm; f32 length of one step, mm
//	36  32 bytes SHA-256 of the mesh file
//	68  u16 x3 for each vertex, in steps from the least corner; then zeros up to a multiple of 4
//	    index x3 for each triangle, then zeros up to a multiple of 4
//	    index x2 for each line: edges at which facets meet at more than picture.CreaseAngle, or that bound one facet
//
// An index is u16 when there are at most 65536 vertices, else u32.
const solidHead = 68

// Encode packs a mesh for a browser, at most so many triangles of it: steps are a 65535th of the longest side, so a
// part of 250 mm is true to 0.004 mm. shown is how many triangles are left.
func Encode(m *mesh.Mesh, sha [32]byte, most int) (data []byte, shown int) {
	low, span := box(m)
	step := span / math.MaxUint16
	if !(step > 0) {
		step = 1
	}
	points, faces := snap(m, low, step, 1)
	// Cells of 2^k steps; each doubling leaves about a quarter of the facets.
	for cell := uint32(16); len(faces) > most && cell <= 1<<15; cell += cell / 2 {
		points, faces = snap(m, low, step, cell)
	}
	lines := creases(points, faces)
	out := make([]byte, solidHead, solidHead+6*len(points)+12*len(faces)+8*len(lines)+8)
	copy(out, "dws1")
	le := binary.LittleEndian
	for i, n := range []int{len(points), len(faces), len(lines), len(m.Triangles)} {
		le.PutUint32(out[4+4*i:], uint32(n))
	}
	for i, v := range low {
		le.PutUint32(out[20+4*i:], math.Float32bits(float32(v)))
	}
	le.PutUint32(out[32:], math.Float32bits(float32(step)))
	copy(out[36:], sha[:])
	for _, p := range points {
		for _, v := range p {
			out = le.AppendUint16(out, v)
		}
	}
	out = padded(out)
	index := func(n uint32) {
		if len(points) <= 1<<16 {
			out = le.AppendUint16(out, uint16(n))
		} else {
			out = le.AppendUint32(out, n)
		}
	}
	for _, f := range faces {
		index(f[0])
		index(f[1])
		index(f[2])
	}
	out = padded(out)
	for _, l := range lines {
		index(l[0])
		index(l[1])
	}
	return padded(out), len(faces)
}

func padded(b []byte) []byte {
	for len(b)%4 != 0 {
		b = append(b, 0)
	}
	return b
}

// box is the least corner of a mesh and its longest side; what is not finite is left out.
func box(m *mesh.Mesh) (low [3]float64, span float64) {
	high := [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	low = [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}
	for _, v := range m.Vertices {
		if !finite(v) {
			continue
		}
		for i, x := range v {
			low[i], high[i] = math.Min(low[i], float64(x)), math.Max(high[i], float64(x))
		}
	}
	for i := range low {
		if math.IsInf(low[i], 0) {
			return [3]float64{}, 0
		}
		span = math.Max(span, high[i]-low[i])
	}
	return low, span
}

func finite(v [3]float32) bool {
	return v[0]-v[0] == 0 && v[1]-v[1] == 0 && v[2]-v[2] == 0
}

// snap puts vertices on the grid and makes one of those that share a cell: their mean. Facets that lose a corner go,
// and so do those with a corner that is not finite.
func snap(m *mesh.Mesh, low [3]float64, step float64, cell uint32) (points [][3]uint16, faces [][3]uint32) {
	type sum struct {
		at [3]uint64
		n  uint64
	}
	const none = math.MaxUint32
	index := make(map[uint64]uint32, len(m.Vertices))
	of := make([]uint32, len(m.Vertices))
	var sums []sum
	for i, v := range m.Vertices {
		if !finite(v) {
			of[i] = none
			continue
		}
		var q [3]uint64
		key := uint64(0)
		for k, x := range v {
			q[k] = uint64(math.Round(min(max((float64(x)-low[k])/step, 0), math.MaxUint16)))
			key = key<<20 | q[k]/uint64(cell)
		}
		at, ok := index[key]
		if !ok {
			at = uint32(len(sums))
			index[key] = at
			sums = append(sums, sum{})
		}
		for k := range q {
			sums[at].at[k] += q[k]
		}
		sums[at].n++
		of[i] = at
	}
	points = make([][3]uint16, len(sums))
	for i, s := range sums {
		for k := range s.at {
			points[i][k] = uint16((s.at[k] + s.n/2) / s.n)
		}
	}
	faces = make([][3]uint32, 0, len(m.Triangles))
	for _, t := range m.Triangles {
		if int(max(t[0], t[1], t[2])) >= len(of) {
			continue
		}
		f := [3]uint32{of[t[0]], of[t[1]], of[t[2]]}
		if f[0] == f[1] || f[1] == f[2] || f[2] == f[0] || f[0] == none || f[1] == none || f[2] == none {
			continue
		}
		faces = append(faces, f)
	}
	return points, faces
}

// creases are the edges worth a line.
func creases(points [][3]uint16, faces [][3]uint32) [][2]uint32 {
	cos := math.Cos(picture.CreaseAngle * math.Pi / 180)
	type edge struct {
		normal [3]float64
		order  int
		drawn  bool
		shared bool
	}
	edges := make(map[[2]uint32]edge, len(faces)*3/2)
	n := 0
	for _, f := range faces {
		normal, ok := normalOf(points, f)
		if !ok {
			continue // a needle on the grid: it has no direction, and its neighbours meet across it
		}
		for k := range 3 {
			key := [2]uint32{f[k], f[(k+1)%3]}
			if key[0] > key[1] {
				key[0], key[1] = key[1], key[0]
			}
			e, seen := edges[key]
			if !seen {
				edges[key] = edge{normal: normal, order: n}
				n++
				continue
			}
			e.shared = true
			e.drawn = e.drawn || e.normal[0]*normal[0]+e.normal[1]*normal[1]+e.normal[2]*normal[2] < cos
			edges[key] = e
		}
	}
	byOrder := make([][2]uint32, n) // maps are walked in no order, and the same mesh gives the same bytes
	keep := make([]bool, n)
	for k, e := range edges {
		byOrder[e.order], keep[e.order] = k, e.drawn || !e.shared
	}
	var out [][2]uint32
	for i, k := range byOrder {
		if keep[i] {
			out = append(out, k)
		}
	}
	return out
}

func normalOf(points [][3]uint16, f [3]uint32) (n [3]float64, ok bool) {
	var a, b [3]float64
	for k := range 3 {
		o := float64(points[f[0]][k])
		a[k], b[k] = float64(points[f[1]][k])-o, float64(points[f[2]][k])-o
	}
	n = [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
	l := math.Sqrt(n[0]*n[0] + n[1]*n[1] + n[2]*n[2])
	if l == 0 {
		return n, false
	}
	return [3]float64{n[0] / l, n[1] / l, n[2] / l}, true
}

// solidOf is one mesh that a design's page shows.
type solidOf struct {
	ID       string // in its path
	Part     design.Part
	Variants []string // that print it from this file
	File     string
}

// solidsOf lists the printed parts, each once for each mesh file that it is printed from.
func solidsOf(d *design.Design) []solidOf {
	var out []solidOf
	for _, v := range d.VariantNames() {
		for _, p := range d.PartsOf(v) {
			file, ok := p.Mesh.For(v)
			if !ok {
				continue
			}
			found := false
			for i := range out {
				if out[i].Part.Name.V == p.Name.V && out[i].File == string(file.V) {
					out[i].Variants = append(out[i].Variants, v)
					found = true
				}
			}
			if !found {
				out = append(out, solidOf{ID: string(p.Name.V) + "." + v, Part: p, Variants: []string{v}, File: string(file.V)})
			}
		}
	}
	return out
}

// solid gives one mesh as it stands on the bed.
func (d *Desk) solid(x *Design, name string) (site.Page, error) {
	none := fmt.Errorf("designs/%s/solids/%s: %w", x.Name, name, site.ErrNoPage)
	id, ext := strings.TrimSuffix(name, ".js"), path.Ext(name)
	if d.Folder != (ext == ".js") || !strings.HasSuffix(id, ".solid") {
		return site.Page{}, none
	}
	for _, s := range solidsOf(x.Work.Design) {
		if s.ID+".solid" != id {
			continue
		}
		f, ok := x.Work.Facts.Mesh(s.File)
		if !ok || f.Error != "" || f.Triangles == 0 || f.Triangles > MaxMesh {
			return site.Page{}, none
		}
		m, err := x.Work.Solid(s.File)
		if err != nil {
			return site.Page{}, fmt.Errorf("the mesh of %s: %w", s.Part.Name.V, err)
		}
		var sha [32]byte
		if b, err := hex.DecodeString(f.SHA256); err == nil {
			copy(sha[:], b)
		}
		data, _ := Encode(mesh.Transform(m, picture.Stand(string(s.Part.StandOn.V))), sha, MaxShown)
		p := site.Page{Path: path.Join("designs", x.Name, "solids", name), Type: site.TypeOf(name), Policy: site.FilePolicy, Data: data}
		if d.Folder {
			p.Data = []byte("dropwrightSolid(\"" + s.ID + "\",\"" + base64.StdEncoding.EncodeToString(data) + "\")\n")
		}
		return p, nil
	}
	return site.Page{}, none
}
