package bundle

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html"
	"image"
	"math"
	"runtime"
	"strings"

	"dropwright/bundle/compare"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/same"
	draw "dropwright/bundle/picture"
	"dropwright/bundle/section"
)

// Differs draws where a part differs between two states: the part before and after, seen from one side, what is gone
// and what is new marked and numbered; and the two cut through the place where they differ most, with the figure.
// It returns an SVG that needs nothing beside it, and the same in a sentence. A part that did not change has no
// picture: nil.
func Differs(a, b *State, p compare.PartChange) (svg []byte, alt string, err error) {
	if p.Change != compare.Changed && p.Change != compare.Mirrored || p.Meshes[0] == "" || p.Meshes[1] == "" {
		return nil, "", nil
	}
	d := &differ{part: p, names: [2]string{a.Name, b.Name}}
	for i, s := range [2]*State{a, b} {
		if d.mesh[i], err = s.mesh(p.Meshes[i]); err != nil {
			return nil, "", fmt.Errorf("%s: %s: %w", s.Name, p.Meshes[i], err)
		}
		if len(d.mesh[i].Triangles) == 0 {
			return nil, "", nil
		}
	}
	return d.draw()
}

// differ draws one part.
type differ struct {
	part  compare.PartChange
	names [2]string
	mesh  [2]*mesh.Mesh // before, after

	marks  [2]same.Marked // in the place of the newer one
	within float64        // mm; what differs by more is marked
	low    [3]float64     // box of both
	high   [3]float64
	front  string // what is looked at, in words
}

// Sizes of the picture in pixels of the screen; the drawn views have twice as many.
const (
	differWidth, differHeight = 1200, 496
	viewSide, viewTop         = 372, 64
	viewGap                   = 21
)

// Colours of the parts and of what is marked: a light grey as of paper board, and a brown that stays dark in grey.
var (
	plainColour = draw.Colour{0xd9, 0xdc, 0xe0}
	markColour  = draw.Colour{0xa8, 0x4b, 0x1c}
)

func (d *differ) draw() ([]byte, string, error) {
	r := d.part.Found
	old := mesh.Transform(d.mesh[0], r.Motion)
	d.low, d.high = boxOf(old, d.mesh[1])
	size := length(d.low, d.high)
	if d.part.Change == compare.Changed {
		d.within = math.Max(0.01, r.Deviation/4)
		d.marks[0], d.marks[1] = same.Marks(old, d.mesh[1], mesh.Identity, d.within, math.Max(size/150, 1e-3))
	} else {
		old = d.mesh[0] // a mirror image fits nowhere: side by side as they are drawn
		d.marks = [2]same.Marked{{Alike: old, Differ: &mesh.Mesh{}}, {Alike: d.mesh[1], Differ: &mesh.Mesh{}}}
		d.low, d.high = boxOf(old, d.mesh[1])
	}
	view := d.view()
	var out bytes.Buffer
	alt := d.alt()
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%d" height="%d" role="img" font-family="system-ui, sans-serif" font-size="15" fill="#1c1f24">`+"\n",
		differWidth, differHeight, differWidth, differHeight)
	fmt.Fprintf(&out, "<title>%s</title>\n<rect width=\"100%%\" height=\"100%%\" fill=\"#ffffff\"/>\n", html.EscapeString(alt))
	for i, what := range [2]string{"before", "after"} {
		x := viewGap + i*(viewSide+viewGap)
		d.heading(&out, x, what+": "+d.names[i])
		img, err := draw.Render(d.bodies(i, true), view, draw.Options{Width: 2 * viewSide, Height: 2 * viewSide, Margin: 16, Paper: &draw.White, Workers: runtime.GOMAXPROCS(0)})
		if err != nil {
			return nil, "", err
		}
		png, err := draw.Paper(img)
		if err != nil {
			return nil, "", err
		}
		fmt.Fprintf(&out, `<image x="%d" y="%d" width="%d" height="%d" href="data:image/png;base64,%s"/>`+"\n", x, viewTop, viewSide, viewSide, base64.StdEncoding.EncodeToString(png))
	}
	x := viewGap + 2*(viewSide+viewGap)
	if d.part.Change == compare.Changed {
		if err := d.section(&out, x, old); err != nil {
			return nil, "", err
		}
	} else {
		d.heading(&out, x, "mirror image")
		d.line(&out, x, viewTop+20, "The two are one another's mirror image;")
		d.line(&out, x, viewTop+42, "no turn lays one on the other.")
	}
	for i, text := range d.legend() {
		d.line(&out, viewGap, differHeight-36+22*i, text)
	}
	out.WriteString("</svg>\n")
	return out.Bytes(), alt, nil
}

// alt says in a sentence what is to be seen.
func (d *differ) alt() string {
	if d.part.Change == compare.Mirrored {
		return fmt.Sprintf("%s before and after, seen from the same side: each the mirror image of the other.", d.part.Part)
	}
	at := d.part.Found.At
	return fmt.Sprintf("%s before and after, and both cut through the place where they differ most: by up to %s at %.1f, %.1f, %.1f mm.", d.part.Part, millimetres(d.part.Found.Deviation), at[0], at[1], at[2])
}

// legend is what stands below the two views, a line each.
func (d *differ) legend() []string {
	seen := "Seen from " + d.front + "."
	var marks []string
	for i, m := range d.marks {
		if len(m.Differ.Triangles) > 0 {
			marks = append(marks, [2]string{"1: what is gone", "2: what is new"}[i])
		}
	}
	if len(marks) == 0 {
		return []string{seen}
	}
	return []string{seen, fmt.Sprintf("%s; marked where it is more than %s.", strings.Join(marks, ", "), millimetres(d.within))}
}

// millimetres is a length for people: hundredths below 10 mm, where a printer may still show them.
func millimetres(x float64) string {
	if x >= 10 {
		return fmt.Sprintf("%.1f mm", x)
	}
	return fmt.Sprintf("%.2f mm", x)
}

func (d *differ) heading(out *bytes.Buffer, x int, text string) {
	if r := []rune(text); len(r) > 46 {
		text = string(r[:45]) + "…"
	}
	fmt.Fprintf(out, `<text x="%d" y="38" font-weight="600">%s</text>`+"\n", x, html.EscapeString(text))
}

func (d *differ) line(out *bytes.Buffer, x, y int, text string) {
	fmt.Fprintf(out, `<text x="%d" y="%d">%s</text>`+"\n", x, y, html.EscapeString(text))
}

// bodies are one state as it is drawn. Both have the box of both, so that they are shown in one place and size.
func (d *differ) bodies(i int, lines bool) []draw.Body {
	line := 0.0
	if lines {
		line = 2
	}
	frame := &mesh.Mesh{Triangles: [][3]uint32{{0, 0, 0}}}
	for k := range 8 {
		var v [3]float32
		for c := range v {
			if v[c] = float32(d.low[c]); k>>c&1 == 1 {
				v[c] = float32(d.high[c])
			}
		}
		frame.Vertices = append(frame.Vertices, v)
	}
	room := draw.Body{Mesh: frame}
	if lines && len(d.marks[0].Differ.Triangles)+len(d.marks[1].Differ.Triangles) > 0 {
		room.Number = 9 // not seen, so not numbered; but the picture keeps the room, and both have one scale
	}
	out := []draw.Body{room, {Mesh: d.marks[i].Alike, Colour: plainColour, Line: line}}
	if m := d.marks[i].Differ; len(m.Triangles) > 0 {
		x := draw.Body{Mesh: m, Colour: markColour}
		if lines {
			x.Number, x.Line = i+1, 1
		}
		out = append(out, x)
	}
	return out
}

// views are the sides that a part may be seen from, the usual one first.
var sides = []struct {
	from [3]float64
	said string
}{
	{draw.Workbench.From, "the front, the right and above"},
	{[3]float64{-0.62, -1, 0.78}, "the front, the left and above"},
	{[3]float64{0.62, 1, 0.78}, "the back, the right and above"},
	{[3]float64{-0.62, 1, 0.78}, "the back, the left and above"},
	{[3]float64{0.62, -1, -0.78}, "the front, the right and below"},
	{[3]float64{-0.62, 1, -0.78}, "the back, the left and below"},
}

// maxLooks is the largest pair, in triangles, of which all sides are looked at to find the best: half a second.
const maxLooks = 500_000

// view is the side that shows most of what is marked; another than the usual one has to show clearly more.
func (d *differ) view() draw.View {
	best := 0
	if marked := len(d.marks[0].Differ.Triangles) + len(d.marks[1].Differ.Triangles); marked > 0 && marked+len(d.marks[0].Alike.Triangles)+len(d.marks[1].Alike.Triangles) <= maxLooks {
		most := 0.0
		for i, s := range sides {
			n := 0
			for k := range d.marks {
				img, err := draw.Render(d.bodies(k, false), draw.View{From: s.from}, draw.Options{Width: 160, Height: 160, Samples: 1})
				if err == nil {
					n += brown(img)
				}
			}
			if x := float64(n); i == 0 || x > most {
				best, most = i, x
				if i == 0 {
					most *= 1.5
				}
			}
		}
	}
	d.front = sides[best].said
	return draw.View{From: sides[best].from}
}

// brown counts the pixels that are marked: shading keeps the colour's order of red, green and blue.
func brown(img *image.NRGBA) int {
	n := 0
	for i := 0; i+3 < len(img.Pix); i += 4 {
		if int(img.Pix[i]) > int(img.Pix[i+2])+30 {
			n++
		}
	}
	return n
}

// section draws both states cut through the place of the largest deviation, the older one in a thin line, the newer in
// a thick one on grey (ISO 128-2: narrow for what was there, wide for what is added).
func (d *differ) section(out *bytes.Buffer, x int, old *mesh.Mesh) error {
	r := d.part.Found
	axis, height := d.plane()
	frame := [3]section.Frame{section.AlongX, section.AlongY, section.AlongZ}[axis]
	at := func(p [3]float64) (u, v float64) {
		u, v, _ = frame.In(p)
		if axis == 1 {
			u, v = v, u // seen from the front: x to the right, z up
		}
		return u, v
	}
	u, v := at(r.At)
	// So large that the deviation is a tenth of it, so small that it is no more than the part; a hole that changed as a
	// whole.
	half := math.Min(math.Max(5*r.Deviation, 3), math.Max(length(d.low, d.high)/2, 3))
	atU, atV := u, v
	if h, ok := d.hole(); ok {
		if x, y := at(h.At); math.Hypot(x-u, y-v) < math.Max(h.Was, h.Is) {
			u, v, half = x, y, math.Max(half, 0.75*math.Max(h.Was, h.Is))
		}
	}
	scale := viewSide / (2 * half)
	d.heading(out, x, fmt.Sprintf("cut at %s = %.2f mm, %.3g times the size", "xyz"[axis:axis+1], height, scale*25.4/96))
	fmt.Fprintf(out, `<svg x="%d" y="%d" width="%d" height="%d" viewBox="%.3f %.3f %.3f %.3f">`+"\n", x, viewTop, viewSide, viewSide, -half, -half, 2*half, 2*half)
	px := 1 / scale
	drawn := false
	for i, m := range [2]*mesh.Mesh{d.mesh[1], old} {
		path, err := cutPath(m, frame, height, func(p section.Point) (float64, float64) {
			if axis == 1 {
				p[0], p[1] = p[1], p[0]
			}
			return p[0] - u, v - p[1]
		})
		if err != nil {
			return err
		}
		drawn = drawn || path != ""
		style := fmt.Sprintf(`fill="#e9ebee" stroke="#1c1f24" stroke-width="%.4f"`, 2.4*px)
		if i == 1 {
			style = fmt.Sprintf(`fill="none" stroke="#a84b1c" stroke-width="%.4f" stroke-dasharray="%.4f %.4f"`, 1.2*px, 6*px, 3*px)
		}
		fmt.Fprintf(out, `<path fill-rule="evenodd" %s d="%s"/>`+"\n", style, path)
	}
	fmt.Fprintf(out, `<circle cx="%.3f" cy="%.3f" r="%.4f" fill="none" stroke="#1c1f24" stroke-width="%.4f"/>`+"\n", atU-u, v-atV, math.Max(r.Deviation, 6*px), 1.2*px)
	fmt.Fprintf(out, `<rect x="%.3f" y="%.3f" width="%.3f" height="%.3f" fill="none" stroke="#c9ccd0" stroke-width="%.4f"/>`+"\n</svg>\n", -half, -half, 2*half, 2*half, 2*px)
	ring := math.Max(r.Deviation, 6*px) * scale
	mid := x + int(math.Min(math.Max((half+atU-u)*scale, 40), viewSide-40))
	top := viewTop + int(math.Max((half+v-atV)*scale-ring, 34))
	fmt.Fprintf(out, `<text x="%d" y="%d" text-anchor="middle" font-weight="600" paint-order="stroke" stroke="#ffffff" stroke-width="5">%s</text>`+"\n", mid, top-8, millimetres(r.Deviation))
	bar := math.Pow(10, math.Floor(math.Log10(half/2)))
	fmt.Fprintf(out, `<path d="M%d %dh%.1f" stroke="#1c1f24" stroke-width="3"/><text x="%d" y="%d" paint-order="stroke" stroke="#ffffff" stroke-width="4">%g mm</text>`+"\n",
		x+14, viewTop+viewSide-16, bar*scale, x+14, viewTop+viewSide-24, bar)
	d.line(out, x, differHeight-14, [3]string{"y to the right, z up", "x to the right, z up", "x to the right, y up"}[axis]+".")
	text := "Thick on grey: after; dashed: before."
	if !drawn {
		text = "Nothing is cut there."
	}
	d.line(out, x, differHeight-36, text)
	return nil
}

// hole is the hole that changed its width next to where the deviation is largest.
func (d *differ) hole() (best compare.HoleMove, ok bool) {
	at := d.part.Found.At
	for _, h := range d.part.Holes {
		if !ok || length(h.At, at) < length(best.At, at) {
			best, ok = h, true
		}
	}
	return best, ok
}

// plane is where both are cut: across a main axis along which the difference hardly points, so that it shows in nearly its
// full length; of those the one on which the place lies deepest inside, since at the rim a cut runs along a face. The cut
// is moved a little inwards for that reason too. A hole that changed is cut across.
func (d *differ) plane() (axis int, height float64) {
	r := d.part.Found
	to := d.pointing()
	depth := func(c int) float64 {
		size := d.high[c] - d.low[c]
		if !(size > 0) {
			return 0
		}
		return math.Min(r.At[c]-d.low[c], d.high[c]-r.At[c]) / size
	}
	least := math.Min(math.Abs(to[0]), math.Min(math.Abs(to[1]), math.Abs(to[2])))
	_, hole := d.hole()
	axis = -1
	for _, c := range [3]int{2, 1, 0} {
		switch {
		case math.Abs(to[c]) > least+0.3:
		case axis < 0, !hole && depth(c) > depth(axis)+0.02:
			axis = c
		}
	}
	inwards := (r.Low[axis]+r.High[axis])/2 - r.At[axis]
	most := math.Max(1, r.Deviation)
	return axis, r.At[axis] + math.Max(-most, math.Min(most, 0.13*inwards))
}

// pointing is the direction from the place of the largest deviation to the nearest point of the other state.
func (d *differ) pointing() [3]float64 {
	at := d.part.Found.At
	other := d.mesh[0]
	motion := d.part.Found.Motion
	if d.part.Found.OnFirst {
		other, motion = d.mesh[1], mesh.Identity
	}
	q := same.Nearest(other, motion, at)
	out := [3]float64{q[0] - at[0], q[1] - at[1], q[2] - at[2]}
	l := math.Sqrt(out[0]*out[0] + out[1]*out[1] + out[2]*out[2])
	if l == 0 {
		return [3]float64{}
	}
	for c := range out {
		out[c] /= l
	}
	return out
}

// cutPath is the outline of a cut as an SVG path; on tells where a point of the cut lies in the picture.
func cutPath(m *mesh.Mesh, f section.Frame, height float64, on func(section.Point) (x, y float64)) (string, error) {
	stack, err := section.NewStack(mesh.Merge(m), f, []float64{height}, 0)
	if err != nil {
		return "", err
	}
	var s section.Section
	stack.Cut(0, &s)
	loops, _ := s.Loops()
	var b strings.Builder
	for _, l := range loops {
		for i, p := range l.Points {
			word := "L"
			if i == 0 {
				word = "M"
			}
			x, y := on(p)
			fmt.Fprintf(&b, "%s%.3f %.3f", word, x, y)
		}
		b.WriteString("Z")
	}
	return b.String(), nil
}

func boxOf(list ...*mesh.Mesh) (lo, hi [3]float64) {
	for i := range lo {
		lo[i], hi[i] = math.Inf(1), math.Inf(-1)
	}
	for _, m := range list {
		for _, t := range m.Triangles {
			for _, v := range t {
				for c, x := range m.Vertices[v] {
					lo[c], hi[c] = math.Min(lo[c], float64(x)), math.Max(hi[c], float64(x))
				}
			}
		}
	}
	return lo, hi
}

func length(a, b [3]float64) float64 {
	return math.Sqrt((a[0]-b[0])*(a[0]-b[0]) + (a[1]-b[1])*(a[1]-b[1]) + (a[2]-b[2])*(a[2]-b[2]))
}
