package bundle

import (
	"bytes"
	"fmt"
	"io"
	"math"

	"dropwright/bundle/bed"
	"dropwright/bundle/design"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
	"dropwright/bundle/mesh/threemf"
)

// decodeMesh reads a mesh of the design, whatever its format.
func decodeMesh(data []byte) (*mesh.Mesh, error) {
	if bytes.HasPrefix(data, []byte("PK")) {
		m, err := threemf.Decode(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			return nil, err
		}
		return m.Mesh(), nil
	}
	m, _, err := stl.Decode(data)
	return m, err
}

// filament is what a part's colour is counted in: the first filament of its role, else the role's own name.
func (p *packer) filament(x design.Part) string {
	colour := string(x.Colour.V)
	if pal, ok := p.k.Design.Colours.Get(colour); ok {
		colour = string(pal.First().V)
	}
	return colour
}

// copyOf is a printed thing: a part as drawn or its mirror image, and how many of it.
type copyOf struct {
	part     design.Part
	file     string
	mirrored bool
	count    int
	name     string // "cheek-mirrored"
	stl      string // its mesh in the bundle
}

// printed lists what is printed of a variant, in the order of the manifest.
func (p *packer) printed() []copyOf {
	var out []copyOf
	for _, x := range p.k.Design.PartsOf(p.o.Variant) {
		file, ok := x.Mesh.For(p.o.Variant)
		if !ok {
			continue
		}
		drawn, mirrored := x.CopiesOf(p.o.Variant)
		for _, c := range []copyOf{{part: x, count: drawn, name: string(x.Name.V)}, {part: x, count: mirrored, name: string(x.Name.V) + "-mirrored", mirrored: true}} {
			if c.count > 0 {
				c.file = string(file.V)
				c.stl = fmt.Sprintf("meshes/%s_%dx_%s.stl", c.name, c.count, p.filament(x))
				out = append(out, c)
			}
		}
	}
	return out
}

// solids writes each printed part afresh, so that no header, name or path of the maker's machine comes along,
// with its copies and colour in the name; the mirror image is made where the manifest asks for one.
func (p *packer) solids() []item {
	var out []item
	for _, c := range p.printed() {
		out = append(out, item{name: c.stl, from: c.file, make: func() ([]byte, error) {
			m, err := p.solidOf(c.file)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", c.file, err)
			}
			if c.mirrored {
				m = mesh.Mirror(m)
			}
			var b bytes.Buffer
			err = stl.Write(&b, m)
			return b.Bytes(), err
		}})
	}
	return out
}

// load is one bed to print, of one filament on one printer.
type load struct {
	name     string // of the file
	filament string
	printer  string
	size     [3]float64
	copies   []copyOf // the kinds on it
	bed.Load
}

// lay puts the parts of each filament on the bed of a printer: the first of the series that takes them all, else
// each part on the first that takes it.
func (p *packer) lay() error {
	var order []string
	groups := map[string][]copyOf{}
	for _, c := range p.printed() {
		f := p.filament(c.part)
		if groups[f] == nil {
			order = append(order, f)
		}
		groups[f] = append(groups[f], c)
	}
	for _, f := range order {
		var mine []load
		for _, g := range p.printers(groups[f]) {
			loads, err := p.fill(f, g.printer, g.copies)
			if err != nil {
				return err
			}
			mine = append(mine, loads...)
		}
		for i := range mine {
			mine[i].name = fmt.Sprintf("models/%s.model.3mf", f)
			if len(mine) > 1 {
				mine[i].name = fmt.Sprintf("models/%s-%d-of-%d.model.3mf", f, i+1, len(mine))
			}
		}
		p.loads = append(p.loads, mine...)
	}
	return nil
}

// onPrinter is what goes on one printer.
type onPrinter struct {
	printer string
	copies  []copyOf
}

func (p *packer) printers(list []copyOf) []onPrinter {
	takes := map[string][]copyOf{}
	var some []copyOf
	for _, c := range list {
		x, ok := p.k.Facts.Part(string(c.part.Name.V), p.o.Variant)
		if !ok || x.Stands == nil || len(x.FitsOn) == 0 {
			p.left = append(p.left, c.name+": no printer of the series takes it")
			continue
		}
		some = append(some, c)
		for _, pr := range x.FitsOn {
			takes[pr] = append(takes[pr], c)
		}
	}
	var out []onPrinter
	for _, pr := range p.k.House.Printers {
		name := string(pr.Name.V)
		if len(some) > 0 && len(takes[name]) == len(some) {
			return []onPrinter{{name, some}}
		}
	}
	for _, pr := range p.k.House.Printers {
		g := onPrinter{printer: string(pr.Name.V)}
		for _, c := range some {
			if x, _ := p.k.Facts.Part(string(c.part.Name.V), p.o.Variant); x.FitsOn[0] == g.printer {
				g.copies = append(g.copies, c)
			}
		}
		if len(g.copies) > 0 {
			out = append(out, g)
		}
	}
	return out
}

// fill lays copies out on the beds of one printer. A part that needs the rim which is kept free gets a bed of
// its own.
func (p *packer) fill(filament, printer string, copies []copyOf) ([]load, error) {
	b, ok := p.bedOf(printer)
	if !ok {
		return nil, nil
	}
	var items []bed.Item
	for _, c := range copies {
		x, _ := p.k.Facts.Part(string(c.part.Name.V), p.o.Variant)
		it := bed.Item{Name: c.name, Copies: c.count, Size: *x.Stands, Outline: x.Outline, Brim: float64(c.part.Print.Over(p.k.House.Print).Brim.V)}
		if c.mirrored {
			it.Outline = mirrorOutline(x.Outline)
		}
		if x.Estimate != nil {
			it.Seconds, it.Grams = x.Estimate.Seconds, x.Estimate.Grams
		}
		items = append(items, it)
	}
	layout, err := bed.Pack(items, b)
	if err != nil {
		return nil, fmt.Errorf("laying out the parts in %s: %w", filament, err)
	}
	out := p.loadsOf(filament, printer, b, copies, layout)
	for _, u := range layout.Unplaced {
		whole := b
		whole.Edge, whole.Spacing = 0, 0
		one := items[u.Item]
		one.Copies, one.Brim = 1, 0
		again, err := bed.Pack([]bed.Item{one}, whole)
		if err != nil || len(again.Loads) != 1 {
			p.left = append(p.left, one.Name+": "+u.Why)
			continue
		}
		for range copies[u.Item].count {
			out = append(out, p.loadsOf(filament, printer, b, copies[u.Item:u.Item+1], again)...)
		}
	}
	return out, nil
}

func (p *packer) loadsOf(filament, printer string, b bed.Bed, copies []copyOf, layout bed.Layout) []load {
	var out []load
	for _, l := range layout.Loads {
		out = append(out, load{filament: filament, printer: printer, size: b.Size, copies: copies, Load: l})
	}
	return out
}

func (p *packer) bedOf(name string) (bed.Bed, bool) {
	for _, pr := range p.k.House.Printers {
		if string(pr.Name.V) != name || len(pr.Bed) != 3 {
			continue
		}
		b := bed.Bed{Edge: bed.DefaultEdge, Spacing: bed.DefaultSpacing}
		for i := range b.Size {
			b.Size[i] = float64(pr.Bed[i].V)
		}
		if f, ok := p.k.Facts.Printer(name); ok {
			b.Start, b.ChangeOver = f.Start, f.ChangeOver
		}
		return b, true
	}
	return bed.Bed{}, false
}

// mirrorOutline is the outline of the mirror image, still counter-clockwise.
func mirrorOutline(o [][2]float64) [][2]float64 {
	out := make([][2]float64, len(o))
	for i, q := range o {
		out[len(o)-1-i] = [2]float64{-q[0], q[1]}
	}
	return out
}

// standing is the turn that lays a face on the bed: the outline in the facts is that of the part so turned.
func standing(face design.Face) mesh.Matrix {
	switch face {
	case "+z":
		return mesh.Matrix{{1, 0, 0, 0}, {0, -1, 0, 0}, {0, 0, -1, 0}}
	case "+x":
		return mesh.Matrix{{0, 0, 1, 0}, {0, 1, 0, 0}, {-1, 0, 0, 0}}
	case "-x":
		return mesh.Matrix{{0, 0, -1, 0}, {0, 1, 0, 0}, {1, 0, 0, 0}}
	case "+y":
		return mesh.Matrix{{1, 0, 0, 0}, {0, 0, 1, 0}, {0, -1, 0, 0}}
	case "-y":
		return mesh.Matrix{{1, 0, 0, 0}, {0, 0, -1, 0}, {0, 1, 0, 0}}
	}
	return mesh.Identity
}

// asPrinted is the mesh of a copy as it stands on the bed.
func (p *packer) asPrinted(c copyOf) (*mesh.Mesh, error) {
	m, err := p.solidOf(c.file)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", c.file, err)
	}
	if t := standing(c.part.StandOn.V); t != mesh.Identity {
		m = mesh.Transform(m, t)
	}
	if c.mirrored {
		m = mesh.Mirror(m)
	}
	return m, nil
}

// models are the 3MF files: one a load, and the assembly where the manifest says how parts lie in it. They hold
// shapes, names, colours and places; no printer's settings are made up.
func (p *packer) models() []item {
	var out []item
	for _, l := range p.loads {
		out = append(out, made(l.name, func(w io.Writer) error { return p.writeLoad(w, l) }))
	}
	if places, ok := p.assembly(); ok {
		out = append(out, made("models/assembly.3mf", func(w io.Writer) error { return p.writeAssembly(w, places) }))
	}
	return out
}

func (p *packer) writeLoad(w io.Writer, l load) error {
	pkg := p.pack3MF(l.filament)
	material := len(pkg.Materials) - 1
	for i, c := range l.copies {
		o := threemf.Placed{Name: c.name, PartNumber: p.partNumber(c), Material: material}
		for _, at := range l.Placed {
			if at.Item != i {
				continue
			}
			if o.Mesh == nil {
				var err error
				if o.Mesh, err = p.asPrinted(c); err != nil {
					return err
				}
			}
			o.Places = append(o.Places, placeOn(o.Mesh, at))
		}
		if o.Mesh != nil {
			pkg.Objects = append(pkg.Objects, o)
		}
	}
	return threemf.Write(w, pkg)
}

// placeOn turns a standing mesh about z and moves it so that the rectangle around it has its middle where the
// layout says, its lowest point on the bed.
func placeOn(m *mesh.Mesh, at bed.Placed) threemf.Transform {
	sin, cos := math.Sincos(at.Turn * math.Pi / 180)
	if at.Turn == 90 {
		sin, cos = 1, 0
	}
	t := threemf.Transform{cos, sin, 0, -sin, cos, 0, 0, 0, 1, 0, 0, 0}
	lo, hi := bounds(m, t)
	t[9], t[10], t[11] = at.Centre[0]-(lo[0]+hi[0])/2, at.Centre[1]-(lo[1]+hi[1])/2, -lo[2]
	return t
}

func bounds(m *mesh.Mesh, t threemf.Transform) (lo, hi [3]float64) {
	for i := range lo {
		lo[i], hi[i] = math.Inf(1), math.Inf(-1)
	}
	for _, tri := range m.Triangles {
		for _, v := range tri {
			q := m.Vertices[v]
			for i := range lo {
				c := float64(q[0])*t[i] + float64(q[1])*t[3+i] + float64(q[2])*t[6+i] + t[9+i]
				lo[i], hi[i] = math.Min(lo[i], c), math.Max(hi[i], c)
			}
		}
	}
	return lo, hi
}

// pack3MF begins a 3MF file with what the design says of itself, and one material for each filament named that
// the series has.
func (p *packer) pack3MF(filaments ...string) threemf.Package {
	k := p.k
	pkg := threemf.Package{Date: Noon(k.Design), Metadata: []threemf.Metadata{
		{Name: "Title", Value: fmt.Sprintf("%s %s", k.Design.Title.V, k.Design.Revision())},
		{Name: "Designer", Value: string(k.House.Maker.Name.V)},
		{Name: "Description", Value: string(k.Design.Summary.V)},
		{Name: "LicenseTerms", Value: k.Licence(p.o.Audience)},
	}}
	for _, name := range filaments {
		if f, ok := k.House.Filament(name); ok {
			r, g, b := f.Colour.V.RGB()
			pkg.Materials = append(pkg.Materials, threemf.Material{Name: name, Color: threemf.Color{R: r, G: g, B: b, A: 255}})
		}
	}
	return pkg
}

func (p *packer) partNumber(c copyOf) string {
	return fmt.Sprintf("%s/%s@%s", p.k.Design.Folder, c.name, p.k.Design.Revision())
}

// stood is one thing in the assembly: what, and where each of its copies is.
type stood struct {
	copyOf
	places []mesh.Matrix
}

// assembly says where the parts of the finished thing are: as `place:` says, else, where the design's meshes
// share one frame, as they are drawn. Jigs and spares are no part of it. It is told only when every part has its
// place: half an assembly misleads.
func (p *packer) assembly() ([]stood, bool) {
	var out []stood
	used := map[string]int{}
	placed := false
	for _, c := range p.printed() {
		if c.part.Role.V == "jig" || c.part.Role.V == "spare" {
			continue
		}
		s := stood{copyOf: c}
		name := string(c.part.Name.V)
		switch at := c.part.Place; {
		case len(at) > 0:
			placed = true
			for _, l := range at[min(used[name], len(at)):] { // as drawn first, then the mirror images
				if len(s.places) == c.count {
					break
				}
				s.places = append(s.places, placement(l))
			}
			used[name] += len(s.places)
		case p.k.Design.Frame.V == "assembled" && !c.mirrored:
			s.places = []mesh.Matrix{mesh.Identity}
		}
		if len(s.places) == 0 && !bool(c.part.Optional.V) {
			return nil, false
		}
		if len(s.places) > 0 {
			out = append(out, s)
		}
	}
	return out, len(out) > 1 && (placed || p.k.Design.Frame.V == "assembled")
}

// placement turns a part about x, y and z, in that order, and moves it.
func placement(l design.Placement) mesh.Matrix {
	t := mesh.Identity
	for axis, a := range l.Turn {
		sin, cos := math.Sincos(float64(a.V) * math.Pi / 180)
		// Half and quarter turns are exact, so that what lies on the plane 0 does not come to lie just below it.
		if sin, cos = exact(sin), exact(cos); sin == 0 && cos == 1 {
			continue
		}
		r := mesh.Identity
		i, j := (axis+1)%3, (axis+2)%3
		r[i][i], r[i][j], r[j][i], r[j][j] = cos, -sin, sin, cos
		t = t.Then(r)
	}
	var at [3]float64
	for i, v := range l.At {
		if i < 3 {
			at[i] = float64(v.V)
		}
	}
	return t.Then(mesh.Shift(at[0], at[1], at[2]))
}

// exact takes the rounding off a sine or cosine that is 0.
func exact(x float64) float64 {
	if math.Abs(x) < 1e-15 {
		return 0
	}
	return x
}

func (p *packer) writeAssembly(w io.Writer, list []stood) error {
	var names []string
	index := map[string]int{}
	for _, s := range list {
		f := p.filament(s.part)
		if _, have := index[f]; !have {
			if _, ok := p.k.House.Filament(f); ok {
				index[f] = len(names)
				names = append(names, f)
			}
		}
	}
	pkg := p.pack3MF(names...)
	low := [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}
	for _, s := range list {
		m, err := p.solidOf(s.file)
		if err != nil {
			return fmt.Errorf("%s: %w", s.file, err)
		}
		if s.mirrored {
			m = mesh.Mirror(m)
		}
		o := threemf.Placed{Name: s.name, PartNumber: p.partNumber(s.copyOf), Material: -1, Mesh: m}
		if i, ok := index[p.filament(s.part)]; ok {
			o.Material = i
		}
		for _, t := range s.places {
			x := transform(t)
			lo, _ := bounds(m, x)
			for i := range low {
				low[i] = math.Min(low[i], lo[i])
			}
			o.Places = append(o.Places, x)
		}
		pkg.Objects = append(pkg.Objects, o)
	}
	for _, o := range pkg.Objects { // into the positive octant, as the standard asks
		for i := range o.Places {
			for a := range low {
				o.Places[i][9+a] -= low[a]
			}
		}
	}
	return threemf.Write(w, pkg)
}

// transform is a motion in the order of the 3MF standard.
func transform(t mesh.Matrix) threemf.Transform {
	var out threemf.Transform
	for row := range 3 {
		for col := range 4 {
			out[3*col+row] = t[row][col]
		}
	}
	return out
}
