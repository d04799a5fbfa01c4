package bundle

import (
	"fmt"
	"io/fs"
	"path"
	"runtime"
	"slices"
	"strconv"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/mesh"
	draw "dropwright/bundle/picture"
	"dropwright/bundle/sheet"
)

// Drawn pictures have paths like files of the design: render/AUDIENCE/VARIANT/KIND/NAME.png, the kind being part,
// mirrored, apart, bed or step. They are drawn when their bytes are asked for.
const drawnFolder = "render/"

// Sizes of drawn pictures in pixels. A part's picture fills a third of the width of A4 at 200 dpi, a scene two
// thirds of it.
var (
	partSize  = [2]int{480, 360}
	sceneSize = [2]int{960, 720}
)

// Widths of lines in pixels: about 0.35 mm on paper for wide ones, the usual group of ISO 128-2 for A4.
const (
	partLine  = 1.5
	sceneLine = 2.4
)

// maxDrawn is the largest mesh that a sheet draws, in triangles: about 2 s of one core, at the 0.4 s measured for a million.
const maxDrawn = 5_000_000

// maxDrawnBodies bounds what one picture shows; beyond it nothing can be made out.
const maxDrawnBodies = 200

// Colours of what is not printed, by eye: zinc, brass, and a grey for bought things.
var (
	zinc   = draw.Colour{0xb4, 0xba, 0xc2}
	brass  = draw.Colour{0xcd, 0xa8, 0x53}
	bought = draw.Colour{0xc9, 0xcc, 0xcf}
)

// fadedShare is how much paper is in the colour of what was there before a step.
const fadedShare = 0.6

// views draws one variant of a design.
type views struct {
	k        *Work // of one audience
	audience design.Audience
	variant  string
	solid    func(file string) (*mesh.Mesh, error)
}

// views returns what draws a variant; solid nil reads the design's files.
func (k *Work) views(audience design.Audience, variant string, solid func(string) (*mesh.Mesh, error)) *views {
	v := &views{k: k.For(audience), audience: audience, variant: variant, solid: solid}
	if solid == nil {
		v.solid = k.solid
	}
	return v
}

func (k *Work) solid(file string) (*mesh.Mesh, error) {
	data, err := fs.ReadFile(k.FS, file)
	if err != nil {
		return nil, err
	}
	return decodeMesh(data)
}

func (v *views) path(kind, name string) string {
	return path.Join(drawnFolder, string(v.audience), v.variant, kind, name+".png")
}

// isDrawn tells a drawn picture's path from a file's.
func isDrawn(name string) bool {
	return strings.HasPrefix(name, drawnFolder) && strings.Count(name, "/") == 4
}

// drawn gives the bytes of a drawn picture.
func (k *Work) drawn(name string, solid func(string) (*mesh.Mesh, error)) (data []byte, mime string, err error) {
	f := strings.Split(strings.TrimSuffix(name, ".png"), "/")
	if len(f) != 5 {
		return nil, "", fmt.Errorf("picture %q: %w", name, fs.ErrNotExist)
	}
	v := k.views(design.Audience(f[1]), f[2], solid)
	switch f[3] {
	case "part", "mirrored":
		data, err = v.drawPart(f[4], f[3] == "mirrored")
	case "apart":
		data, err = v.drawApart()
	case "bed":
		data, err = v.drawBed()
	case "step":
		i, wrong := strconv.Atoi(f[4])
		if wrong != nil || i < 0 || i >= len(v.k.Design.Assembly) {
			return nil, "", fmt.Errorf("picture %q: %w", name, fs.ErrNotExist)
		}
		data, err = v.drawStep(i)
	default:
		err = fmt.Errorf("picture %q: %w", name, fs.ErrNotExist)
	}
	return data, "image/png", err
}

// Images is Image for one print of a sheet: it keeps what it drew, for a picture that stands in two places, and the
// meshes it read. It is not for several goroutines at once.
func (k *Work) Images() sheet.Images {
	type kept struct {
		data []byte
		mime string
		err  error
	}
	have := map[string]kept{}
	meshes := map[string]*mesh.Mesh{}
	solid := func(file string) (*mesh.Mesh, error) {
		if m := meshes[file]; m != nil {
			return m, nil
		}
		m, err := k.solid(file)
		if err == nil {
			meshes[file] = m
		}
		return m, err
	}
	return func(name string) ([]byte, string, error) {
		if !isDrawn(name) {
			return k.Image(name)
		}
		x, ok := have[name]
		if !ok {
			x.data, x.mime, x.err = k.drawn(name, solid)
			have[name] = x
		}
		return x.data, x.mime, x.err
	}
}

// meshFile is the mesh of a part when it can be drawn.
func (v *views) meshFile(p design.Part) (string, bool) {
	f, ok := p.Mesh.For(v.variant)
	if !ok {
		return "", false
	}
	m, ok := v.k.Facts.Mesh(string(f.V))
	return string(f.V), ok && m.Error == "" && m.Triangles > 0 && m.Triangles <= maxDrawn
}

// partImage is the path of a part's picture, "" when its mesh cannot be drawn.
func (v *views) partImage(name string, mirrored bool) string {
	p, ok := v.k.Design.Part(name)
	if !ok {
		return ""
	}
	if _, ok := v.meshFile(p); !ok {
		return ""
	}
	if mirrored {
		return v.path("mirrored", name)
	}
	return v.path("part", name)
}

// drawPart draws a part as it stands on the bed.
func (v *views) drawPart(name string, mirrored bool) ([]byte, error) {
	p, ok := v.k.Design.Part(name)
	if !ok {
		return nil, fmt.Errorf("part %q: %w", name, fs.ErrNotExist)
	}
	b, err := v.body(p, mirrored, partLine)
	if err != nil {
		return nil, err
	}
	b.Place = draw.Stand(string(p.StandOn.V))
	return render([]draw.Body{b}, partSize)
}

func render(bodies []draw.Body, size [2]int) ([]byte, error) {
	img, err := draw.Render(bodies, draw.View{}, draw.Options{Width: size[0], Height: size[1], Margin: float64(size[1]) / 30, Workers: runtime.GOMAXPROCS(0)})
	if err != nil {
		return nil, err
	}
	return draw.Paper(img)
}

// body is a part in its colour, not yet placed.
func (v *views) body(p design.Part, mirrored bool, line float64) (draw.Body, error) {
	file, ok := v.meshFile(p)
	if !ok {
		return draw.Body{}, fmt.Errorf("mesh of part %q: %w", p.Name.V, fs.ErrNotExist)
	}
	m, err := v.solid(file)
	if err != nil {
		return draw.Body{}, err
	}
	if mirrored {
		m = mesh.Mirror(m)
	}
	return draw.Body{Mesh: m, Colour: v.colour(p), Line: line}, nil
}

func (v *views) colour(p design.Part) draw.Colour {
	roles, _ := v.k.Design.Colours.Get(string(p.Colour.V))
	f, _ := v.k.House.Filament(string(roles.First().V))
	if c, ok := draw.ParseColour(string(f.Colour.V)); ok {
		return c
	}
	return bought
}

// place is where a copy of a part stands in the assembly: copies as drawn come first, then mirrored ones, in the
// order of the part's placements. ok is false when that is not known.
func (v *views) place(p design.Part, copy int) (m mesh.Matrix, ok bool) {
	if copy < len(p.Place) {
		return placement(p.Place[copy]), true
	}
	drawn, mirrored := p.CopiesOf(v.variant)
	return mesh.Identity, v.k.Design.Frame.V == "assembled" && len(p.Place) == 0 && drawn == 1 && mirrored == 0
}

// numbered gives every thing of a picture its item number, and keeps what the legend says of it.
type numbered struct {
	names  []string
	counts []int
}

func (n *numbered) number(name string, count int) int {
	if i := slices.Index(n.names, name); i >= 0 {
		n.counts[i] += count
		return i + 1
	}
	n.names, n.counts = append(n.names, name), append(n.counts, count)
	return len(n.names)
}

// legend is "1 hood, 2 foot (3 ×)". It is made of the maker's own words and figures, so that it reads in any language.
func (n *numbered) legend() string {
	var out []string
	for i, name := range n.names {
		s := fmt.Sprintf("%d\u00a0%s", i+1, name)
		if n.counts[i] > 1 {
			s += fmt.Sprintf(" (%d\u00a0×)", n.counts[i])
		}
		out = append(out, s)
	}
	return strings.Join(out, ", ")
}

// partTitle is how the sheet calls a part.
func partTitle(p design.Part) string {
	if p.Title.Set() {
		return string(p.Title.V)
	}
	return string(p.Name.V)
}

// apartScene is the whole assembly, when the place of every part that is built in is known and there are two or more.
func (v *views) apartScene() ([]draw.Body, *numbered, error) {
	var bodies []draw.Body
	var of []string // the part of each
	n := &numbered{}
	for _, p := range v.k.Design.PartsOf(v.variant) {
		if p.Role.V == "jig" || p.Role.V == "spare" || bool(p.Optional.V) {
			continue
		}
		drawn, mirrored := p.CopiesOf(v.variant)
		if drawn+mirrored > maxDrawnBodies {
			return nil, nil, nil
		}
		for c := range drawn + mirrored {
			at, ok := v.place(p, c)
			if _, readable := v.meshFile(p); !ok || !readable {
				return nil, nil, nil
			}
			b, err := v.body(p, c >= drawn, sceneLine)
			if err != nil {
				return nil, nil, err
			}
			b.Place, b.Number = at, n.number(partTitle(p), 1)
			bodies, of = append(bodies, b), append(of, string(p.Name.V))
		}
	}
	if len(bodies) < 2 || len(bodies) > maxDrawnBodies {
		return nil, nil, nil
	}
	if root := v.root(); root != "" {
		bodies[slices.Index(of, root)].Keep = true
	}
	for _, f := range v.k.Design.Fasteners {
		if !f.Only.Has(v.variant) {
			continue
		}
		for _, b := range v.screws(string(f.Name.V), 0, f.CountOf(v.variant)) {
			b.Line, b.Number = sceneLine*draw.Thin, n.number(string(f.Name.V), 1)
			bodies = append(bodies, b)
		}
	}
	return bodies, n, nil
}

// root is the part that stays where it is when the assembly is taken apart: the one that most fasteners go through or
// into, the largest of several; "" when no part stands out.
func (v *views) root() string {
	if v.k.Facts.Fit == nil {
		return ""
	}
	best, joints, volume := "", 0, 0.0
	for _, p := range v.k.Design.PartsOf(v.variant) {
		file, ok := v.meshFile(p)
		if drawn, mirrored := p.CopiesOf(v.variant); !ok || drawn+mirrored != 1 || p.Role.V == "jig" || p.Role.V == "spare" || bool(p.Optional.V) {
			continue
		}
		n := 0
		for _, j := range v.k.Facts.Fit.Joints {
			if j.Variant == v.variant && slices.ContainsFunc(j.Members, func(m facts.Member) bool { return m.Kind == "part" && m.Name == string(p.Name.V) }) {
				n++
			}
		}
		size := 0.0
		if m, ok := v.k.Facts.Mesh(file); ok && m.Size != nil {
			size = m.Size[0] * m.Size[1] * m.Size[2]
		}
		if n > joints || n > 0 && n == joints && size > volume {
			best, joints, volume = string(p.Name.V), n, size
		}
	}
	return best
}

// apart is the picture of the assembly taken apart; nil when it cannot be drawn.
func (v *views) apart() *sheet.Picture {
	if !v.placedAll() {
		return nil
	}
	_, n, err := v.apartScene()
	if err != nil || n == nil {
		return nil
	}
	return &sheet.Picture{File: v.path("apart", "all"), Alt: string(v.k.Design.Title.V) + ": " + n.legend(), Caption: n.legend()}
}

// placedAll answers without reading a mesh, as most designs have no places.
func (v *views) placedAll() bool {
	for _, p := range v.k.Design.PartsOf(v.variant) {
		drawn, mirrored := p.CopiesOf(v.variant)
		if _, ok := v.place(p, drawn+mirrored-1); drawn+mirrored > 0 && !ok && p.Role.V != "jig" && p.Role.V != "spare" && !bool(p.Optional.V) {
			return false
		}
	}
	return true
}

func (v *views) drawApart() ([]byte, error) {
	bodies, n, err := v.apartScene()
	if err != nil {
		return nil, err
	}
	if n == nil {
		return nil, fmt.Errorf("exploded view of %q: %w", v.k.Design.Folder, fs.ErrNotExist)
	}
	return render(draw.Apart(bodies, draw.Explode(bodies, 0), v.lineWidth(bodies)), sceneSize)
}

// bedScene is all printed parts side by side as they stand on the bed, at one scale.
func (v *views) bedScene(bodies bool) ([]draw.Body, *numbered, error) {
	var out []draw.Body
	n := &numbered{}
	total := 0
	for _, p := range v.k.Design.PartsOf(v.variant) {
		if _, ok := v.meshFile(p); !ok {
			continue
		}
		drawn, mirrored := p.CopiesOf(v.variant)
		if total += drawn + mirrored; total > maxDrawnBodies {
			return nil, nil, nil
		}
		for c := range drawn + mirrored {
			i := n.number(partTitle(p), 1)
			if !bodies {
				continue
			}
			b, err := v.body(p, c >= drawn, sceneLine*draw.Thin)
			if err != nil {
				return nil, nil, err
			}
			b.Place, b.Number = draw.Stand(string(p.StandOn.V)), i
			out = append(out, b)
		}
	}
	if total < 2 {
		return nil, nil, nil
	}
	return draw.Contact(out, 0, 1.4), n, nil
}

// bed is the picture of all printed parts on the bed; nil for a single one.
func (v *views) bed() *sheet.Picture {
	_, n, err := v.bedScene(false)
	if err != nil || n == nil {
		return nil
	}
	return &sheet.Picture{File: v.path("bed", "all"), Alt: string(v.k.Design.Title.V) + ": " + n.legend(), Caption: n.legend()}
}

func (v *views) drawBed() ([]byte, error) {
	bodies, n, err := v.bedScene(true)
	if err != nil {
		return nil, err
	}
	if n == nil {
		return nil, fmt.Errorf("parts of %q on the bed: %w", v.k.Design.Folder, fs.ErrNotExist)
	}
	return render(bodies, sceneSize)
}

// lineWidth is the width of a thin line in a scene, mm.
func (v *views) lineWidth(bodies []draw.Body) float64 {
	return draw.Span(bodies) / float64(sceneSize[1]) * sceneLine * draw.Thin
}

// illustrated composes the sheet with drawn pictures.
func (p *packer) illustrated() *sheet.Sheet {
	v := p.k.views(p.o.Audience, p.o.Variant, p.loaded())
	in := p.sheetInput()
	in.PartImage, in.StepImage = v.partImage, v.step
	s := sheet.Compose(in)
	x := v.apart()
	if x == nil {
		x = v.bed()
	}
	if x != nil {
		for i := range s.Sections {
			if s.Sections[i].ID == "parts" {
				s.Sections[i].Blocks = append([]sheet.Block{{Kind: sheet.Pictures, Pictures: []sheet.Picture{*x}}}, s.Sections[i].Blocks...)
			}
		}
	}
	return s
}

// loaded is where meshes come from: the packer's own store when it has one.
func (p *packer) loaded() func(string) (*mesh.Mesh, error) {
	if p.mesh == nil {
		return nil
	}
	return p.solidOf
}
