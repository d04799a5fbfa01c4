package sheet

// Drawing is a line drawing in millimetres, y downwards. With True it is drawn to true size and must not be
// scaled by the page.
type Drawing struct {
	ID     string  `json:"id"`
	Title  string  `json:"title"` // what it shows, for who cannot see it
	Width  float64 `json:"width"`
	Height float64 `json:"height"`
	True   bool    `json:"true,omitempty"`
	Shapes []Shape `json:"shapes"`
}

// Line widths of drawings, mm. ISO 128-20 gives the series 0.13, 0.18, 0.25, 0.35, 0.5, 0.7; wide to narrow
// lines stand 2:1.
const (
	Narrow = 0.18
	Wide   = 0.35
	Thick  = 0.7
)

// Shape is one mark: a line through points, a closed outline, a circle, or a text.
type Shape struct {
	Points []Point `json:"points,omitempty"`
	Closed bool    `json:"closed,omitempty"`
	Radius float64 `json:"radius,omitempty"` // with one point: a circle
	Text   string  `json:"text,omitempty"`   // with one point: a text on its base line
	Size   float64 `json:"size,omitempty"`   // of the text, mm
	Anchor string  `json:"anchor,omitempty"` // "start" (default), "middle", "end"
	Bold   bool    `json:"bold,omitempty"`
	Stroke float64 `json:"stroke,omitempty"` // line width, mm
	Dash   bool    `json:"dash,omitempty"`
	Colour string  `json:"colour,omitempty"` // of line or text; "" is the page's ink
	Fill   string  `json:"fill,omitempty"`   // "" none, "ink", "paper", or #rrggbb
}

// Point is a place on a drawing.
type Point struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

func (d *Drawing) line(width float64, xy ...float64) {
	d.Shapes = append(d.Shapes, Shape{Points: points(xy), Stroke: width})
}

func (d *Drawing) dashed(width float64, xy ...float64) {
	d.Shapes = append(d.Shapes, Shape{Points: points(xy), Stroke: width, Dash: true})
}

func (d *Drawing) outline(width float64, xy ...float64) {
	d.Shapes = append(d.Shapes, Shape{Points: points(xy), Stroke: width, Closed: true})
}

func (d *Drawing) rect(width, x, y, w, h float64) {
	d.outline(width, x, y, x+w, y, x+w, y+h, x, y+h)
}

func (d *Drawing) circle(width, x, y, r float64) {
	d.Shapes = append(d.Shapes, Shape{Points: []Point{{round(x), round(y)}}, Radius: round(r), Stroke: width})
}

func (d *Drawing) text(size, x, y float64, anchor, s string) {
	d.Shapes = append(d.Shapes, Shape{Points: []Point{{round(x), round(y)}}, Text: s, Size: size, Anchor: anchor})
}

func points(xy []float64) []Point {
	var out []Point
	for i := 0; i+1 < len(xy); i += 2 {
		out = append(out, Point{round(xy[i]), round(xy[i+1])})
	}
	return out
}

// round keeps a thousandth of a millimetre, so that the same drawing is the same text on every machine.
func round(x float64) float64 {
	n := float64(int64(x*1000 + 0.5))
	if x < 0 {
		n = float64(int64(x*1000 - 0.5))
	}
	return n / 1000
}
