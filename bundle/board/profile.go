package board

import "dropwright/bundle/finding"

// Profile is one board as its file describes it. Format 1.
type Profile struct {
	File string        `yaml:"" json:"file,omitempty"` // name of the file it was read from
	At   finding.Place `yaml:"" json:"-"`

	Format      Number      `yaml:"profile" need:"yes" eg:"1" doc:"Format of the profile: 1." json:"profile"`
	ID          Text        `yaml:"id" need:"yes" eg:"relay-4" doc:"Name by which designs call it." json:"id"`
	Title       Text        `yaml:"title" need:"yes" eg:"relay board, four channels" doc:"What it is, in words." json:"title"`
	Kind        Text        `yaml:"kind" doc:"computer, microcontroller, carrier or accessory." json:"kind,omitzero"`
	Designation Designation `yaml:"designation" doc:"The standard it follows." json:"designation,omitzero"`
	Datum       Datum       `yaml:"datum" doc:"Where the coordinates start." json:"datum,omitzero"`
	Outline     Outline     `yaml:"outline" need:"yes" eg:"{length: 85, width: 54}" doc:"Its outline seen from the component side." json:"outline"`
	Mounts      []Mount     `yaml:"mounts" doc:"Mounting holes." json:"mounts,omitempty"`
	Heights     Heights     `yaml:"heights" doc:"How far parts stand off the board." json:"heights,omitzero"`
	Keepouts    []Keepout   `yaml:"keepouts" doc:"Where nothing may be." json:"keepouts,omitempty"`
	Overhangs   []Overhang  `yaml:"overhangs" doc:"Strips beyond an edge where connectors and plugs pass." json:"overhangs,omitempty"`
	Ports       []Port      `yaml:"ports" doc:"Connectors that want an opening in a wall." json:"ports,omitempty"`
	Controls    []Control   `yaml:"controls" doc:"Buttons and lights to be reached or seen." json:"controls,omitempty"`
	Headers     []Header    `yaml:"headers" doc:"Pin headers." json:"headers,omitempty"`
	Stacking    Stacking    `yaml:"stacking" doc:"Boards above one another." json:"stacking,omitzero"`
	Rails       []Rail      `yaml:"rails" doc:"Supply rails." json:"rails,omitempty"`
	BasisAll    Text        `yaml:"basis_default" doc:"How figures are known that say nothing else." json:"basis_default,omitzero"`
	Basis       Basis       `yaml:"basis" doc:"How single figures are known." json:"basis,omitzero"`
	Sources     []Source    `yaml:"sources" doc:"Where the figures come from." json:"sources,omitempty"`
	Notes       []Text      `yaml:"notes" doc:"What a reader should know." json:"notes,omitempty"`
}

// SetPlace keeps the place.
func (p *Profile) SetPlace(at finding.Place) { p.At = at }

// Designation names the standard of a board.
type Designation struct {
	Standard Text `yaml:"standard" doc:"The standard or layout." json:"standard,omitzero"`
	Edition  Text `yaml:"edition" doc:"Its edition." json:"edition,omitzero"`
	Figure   Text `yaml:"figure" doc:"The figure or page." json:"figure,omitzero"`
}

// Datum says where coordinates start.
type Datum struct {
	Origin Text `yaml:"origin" doc:"lower-left, seen from the component side." json:"origin,omitzero"`
	X      Text `yaml:"x" doc:"The edge that x runs along." json:"x,omitzero"`
	Z0     Text `yaml:"z0" doc:"board-top." json:"z0,omitzero"`
}

// Outline is the board's outline.
type Outline struct {
	Length    Length       `yaml:"length" need:"yes" eg:"85.0" doc:"Extent along x." json:"length"`
	Width     Length       `yaml:"width" need:"yes" eg:"54.0" doc:"Extent along y." json:"width"`
	Tolerance Length       `yaml:"tolerance" doc:"Plus and minus on the outline." json:"tolerance,omitzero"`
	Thickness Length       `yaml:"thickness" doc:"Of the bare board." json:"thickness,omitzero"`
	Corners   CornerRadius `yaml:"corner_radius" doc:"Radii of the corners." json:"corner_radius,omitzero"`
	Polygon   []Lengths    `yaml:"polygon" doc:"Corners [x, y], counter-clockwise, where it is no rectangle." json:"polygon,omitempty"`
}

// CornerRadius is the radii of a rectangular outline.
type CornerRadius struct {
	All        Length `yaml:"all" doc:"All four." json:"all,omitzero"`
	LowerLeft  Length `yaml:"lower_left" doc:"At the origin." json:"lower_left,omitzero"`
	LowerRight Length `yaml:"lower_right" doc:"At the far end of x." json:"lower_right,omitzero"`
	UpperRight Length `yaml:"upper_right" doc:"Opposite the origin." json:"upper_right,omitzero"`
	UpperLeft  Length `yaml:"upper_left" doc:"At the far end of y." json:"upper_left,omitzero"`
}

// Mount is a mounting hole. Land is the diameter kept free for boss and screw head.
type Mount struct {
	At    finding.Place `yaml:"" json:"-"`
	ID    Text          `yaml:"id" need:"yes" eg:"M1" doc:"Its name." json:"id"`
	X     Length        `yaml:"x" need:"yes" eg:"4.0" doc:"Centre." json:"x"`
	Y     Length        `yaml:"y" need:"yes" eg:"18.5" doc:"Centre." json:"y"`
	Hole  Length        `yaml:"hole" doc:"Diameter of the hole." json:"hole,omitzero"`
	Screw Text          `yaml:"screw" doc:"Thread of the screw, M2.5." json:"screw,omitzero"`
	Land  Length        `yaml:"land" doc:"Diameter kept free around it." json:"land,omitzero"`
}

// SetPlace keeps the place.
func (m *Mount) SetPlace(at finding.Place) { m.At = at }

// Heights is how far parts stand off the board at most.
type Heights struct {
	Top     Length `yaml:"top" doc:"Above the top face." json:"top,omitzero"`
	Bottom  Length `yaml:"bottom" doc:"Below the underside." json:"bottom,omitzero"`
	Overall Length `yaml:"overall" doc:"All together." json:"overall,omitzero"`
	Zones   []Zone `yaml:"zones" doc:"Areas with a limit of their own." json:"zones,omitempty"`
}

// Zone is an area with a height limit of its own.
type Zone struct {
	At     finding.Place `yaml:"" json:"-"`
	ID     Text          `yaml:"id" need:"yes" eg:"main" doc:"Its name." json:"id"`
	Side   Text          `yaml:"side" doc:"top or bottom." json:"side,omitzero"`
	Rect   Lengths       `yaml:"rect" need:"yes" eg:"[0, 0, 85, 18.5]" doc:"[x0, y0, x1, y1]." json:"rect"`
	Max    Length        `yaml:"max" need:"yes" eg:"6.5" doc:"Tallest part." json:"max"`
	Option Length        `yaml:"max_option_b" doc:"Tallest part of the standard's option B." json:"max_option_b,omitzero"`
	Note   Text          `yaml:"note" doc:"What to mind." json:"note,omitzero"`
	Basis  Basis         `yaml:"basis" doc:"How it is known." json:"basis,omitzero"`
}

// SetPlace keeps the place.
func (z *Zone) SetPlace(at finding.Place) { z.At = at }

// Keepout is an area where nothing may be.
type Keepout struct {
	At      finding.Place `yaml:"" json:"-"`
	ID      Text          `yaml:"id" need:"yes" eg:"antenna" doc:"Its name." json:"id"`
	Side    Text          `yaml:"side" doc:"top, bottom or both." json:"side,omitzero"`
	Rect    Lengths       `yaml:"rect" need:"yes" eg:"[0, 0, 10, 10]" doc:"[x0, y0, x1, y1]." json:"rect"`
	Depth   Length        `yaml:"depth" doc:"How far from the board; left out: all the way." json:"depth,omitzero"`
	Antenna Flag          `yaml:"antenna" doc:"A radio antenna: metal and thick walls nearby weaken it." json:"antenna,omitzero"`
	Reason  Text          `yaml:"reason" doc:"Why." json:"reason,omitzero"`
	Basis   Basis         `yaml:"basis" doc:"How it is known." json:"basis,omitzero"`
}

// SetPlace keeps the place.
func (k *Keepout) SetPlace(at finding.Place) { k.At = at }

// Overhang is a strip beyond an edge where connectors and their plugs may pass.
type Overhang struct {
	ID   Text    `yaml:"id" need:"yes" eg:"lower" doc:"Its name." json:"id"`
	Edge Text    `yaml:"edge" need:"yes" eg:"-y" doc:"+x, -x, +y or -y." json:"edge"`
	X    Lengths `yaml:"x" doc:"Range along a y edge." json:"x,omitzero"`
	Y    Lengths `yaml:"y" doc:"Range along an x edge." json:"y,omitzero"`
	Out  Length  `yaml:"out" doc:"How far beyond." json:"out,omitzero"`
}

// Port is a connector that wants an opening in a wall.
type Port struct {
	At           finding.Place `yaml:"" json:"-"`
	ID           Text          `yaml:"id" need:"yes" eg:"usb" doc:"Its name." json:"id"`
	Ref          Text          `yaml:"ref" doc:"Its reference on the board." json:"ref,omitzero"`
	Connector    Text          `yaml:"connector" need:"yes" eg:"usb-c" doc:"Connector family." json:"connector"`
	Alternatives []Text        `yaml:"alternatives" doc:"Families that may stand in its place." json:"alternatives,omitempty"`
	Required     Flag          `yaml:"required" doc:"Whether the board is of no use without it." json:"required,omitzero"`
	Side         Text          `yaml:"side" doc:"top or bottom." json:"side,omitzero"`
	Insertion    Text          `yaml:"insertion" need:"yes" eg:"+y" doc:"Direction in which the plug goes in: +x -x +y -y +z -z." json:"insertion"`
	Axis         Axis          `yaml:"axis" doc:"Centre line of the plug." json:"axis,omitzero"`
	Face         Length        `yaml:"face" doc:"Mating plane along the insertion direction." json:"face,omitzero"`
	Box          Box           `yaml:"box" doc:"Body of the receptacle, [min, max] each." json:"box,omitzero"`
	Plug         Body          `yaml:"plug" doc:"Plug body, instead of the family's." json:"plug,omitzero"`
	Aperture     Body          `yaml:"aperture" doc:"Opening in the wall that the standard itself gives." json:"aperture,omitzero"`
	Basis        Basis         `yaml:"basis" doc:"How its figures are known." json:"basis,omitzero"`
	Note         Text          `yaml:"note" doc:"What to mind." json:"note,omitzero"`
}

// SetPlace keeps the place.
func (p *Port) SetPlace(at finding.Place) { p.At = at }

// Axis is a centre line: the two coordinates across it.
type Axis struct {
	X Length `yaml:"x" doc:"x" json:"x,omitzero"`
	Y Length `yaml:"y" doc:"y" json:"y,omitzero"`
	Z Length `yaml:"z" doc:"z, above the top face." json:"z,omitzero"`
}

// Box is a body's extent along each axis.
type Box struct {
	X Lengths `yaml:"x" doc:"[min, max]" json:"x,omitzero"`
	Y Lengths `yaml:"y" doc:"[min, max]" json:"y,omitzero"`
	Z Lengths `yaml:"z" doc:"[min, max]" json:"z,omitzero"`
}

// Control is a button or light.
type Control struct {
	At    finding.Place `yaml:"" json:"-"`
	ID    Text          `yaml:"id" need:"yes" eg:"reset" doc:"Its name." json:"id"`
	Ref   Text          `yaml:"ref" doc:"Its reference on the board." json:"ref,omitzero"`
	X     Length        `yaml:"x" need:"yes" eg:"9.4" doc:"Centre." json:"x"`
	Y     Length        `yaml:"y" need:"yes" eg:"6.5" doc:"Centre." json:"y"`
	Side  Text          `yaml:"side" doc:"top or bottom." json:"side,omitzero"`
	Basis Basis         `yaml:"basis" doc:"How it is known." json:"basis,omitzero"`
}

// SetPlace keeps the place.
func (c *Control) SetPlace(at finding.Place) { c.At = at }

// Header is a pin header.
type Header struct {
	At          finding.Place `yaml:"" json:"-"`
	ID          Text          `yaml:"id" need:"yes" eg:"low-speed" doc:"Its name." json:"id"`
	Rows        Number        `yaml:"rows" need:"yes" eg:"2" doc:"Rows of pins." json:"rows"`
	Columns     Number        `yaml:"columns" need:"yes" eg:"20" doc:"Pins in a row." json:"columns"`
	Pitch       Length        `yaml:"pitch" need:"yes" eg:"2.54" doc:"Between pins." json:"pitch"`
	Pin1        Lengths       `yaml:"pin1" doc:"Centre of pin 1." json:"pin1,omitzero"`
	Pin0        Lengths       `yaml:"pin0" doc:"Centre of pin 0, where the standard counts from 0." json:"pin0,omitzero"`
	Pin1X       Length        `yaml:"pin1_x" doc:"x of pin 1, where its y is not known." json:"pin1_x,omitzero"`
	First       Lengths       `yaml:"first" doc:"Centre of the first pin of a single row." json:"first,omitzero"`
	Centre      Lengths       `yaml:"centre" doc:"Centre of the whole header." json:"centre,omitzero"`
	Along       Text          `yaml:"along" doc:"Direction in which the columns run." json:"along,omitzero"`
	CentreLineY Length        `yaml:"centre_line_y" doc:"y of the middle between two rows along x." json:"centre_line_y,omitzero"`
	RowX        Lengths       `yaml:"row_x" doc:"x of each row along y." json:"row_x,omitzero"`
	Box         Box           `yaml:"box" doc:"Body." json:"box,omitzero"`
	Height      Length        `yaml:"height" doc:"Above the top face." json:"height,omitzero"`
	PinsBelow   Length        `yaml:"pins_below" doc:"Pins below the underside." json:"pins_below,omitzero"`
	Access      Text          `yaml:"access" doc:"top, bottom, both or none." json:"access,omitzero"`
	SignalVolts Number        `yaml:"signal_volts" doc:"Level of its signal pins." json:"signal_volts,omitzero"`
	Pins        Entries       `yaml:"pins" doc:"Pins by number or name: the rail or signal on each." json:"pins,omitempty"`
	Basis       Basis         `yaml:"basis" doc:"How its figures are known." json:"basis,omitzero"`
	Note        Text          `yaml:"note" doc:"What to mind." json:"note,omitzero"`
}

// SetPlace keeps the place.
func (h *Header) SetPlace(at finding.Place) { h.At = at }

// Stacking is how boards stand above one another.
type Stacking struct {
	Above       Length `yaml:"above" doc:"Free height above the board." json:"above,omitzero"`
	AboveOther  Length `yaml:"above_alternative" doc:"The standard's other height." json:"above_alternative,omitzero"`
	PitchClear  Length `yaml:"pitch_clear" doc:"Between board faces." json:"pitch_clear,omitzero"`
	SpacerRules Spacer `yaml:"spacer" doc:"The spacer." json:"spacer,omitzero"`
	Note        Text   `yaml:"note" doc:"What to mind." json:"note,omitzero"`
}

// Spacer is what holds boards apart.
type Spacer struct {
	Height    Length `yaml:"height" doc:"Height." json:"height,omitzero"`
	Tolerance Length `yaml:"tolerance" doc:"Plus and minus." json:"tolerance,omitzero"`
	AcrossMax Length `yaml:"across_max" doc:"Largest width." json:"across_max,omitzero"`
	ThreadMax Length `yaml:"thread_max" doc:"Largest thread that passes." json:"thread_max,omitzero"`
}

// Rail is a supply rail. Role says which way power flows as the board sees it: input feeds the board,
// output may feed other things, return is the ground.
type Rail struct {
	At       finding.Place `yaml:"" json:"-"`
	ID       Text          `yaml:"id" need:"yes" eg:"5V" doc:"Its name; pins of that name belong to it." json:"id"`
	Role     Text          `yaml:"role" need:"yes" eg:"output" doc:"input, output or return." json:"role"`
	Volts    Number        `yaml:"volts" doc:"Nominal." json:"volts,omitzero"`
	VoltsMin Number        `yaml:"volts_min" doc:"Lowest." json:"volts_min,omitzero"`
	VoltsMax Number        `yaml:"volts_max" doc:"Highest." json:"volts_max,omitzero"`
	Amps     Number        `yaml:"amps" doc:"Most that may be drawn." json:"amps,omitzero"`
	Watts    Number        `yaml:"watts_guaranteed" doc:"Least that it gives." json:"watts_guaranteed,omitzero"`
	AC       Flag          `yaml:"ac" doc:"Alternating current." json:"ac,omitzero"`
	Hazard   Text          `yaml:"hazard" doc:"none, mains or lithium." json:"hazard,omitzero"`
	Where    Text          `yaml:"at" doc:"Where it comes out." json:"at,omitzero"`
	Note     Text          `yaml:"note" doc:"What to mind." json:"note,omitzero"`
	Basis    Basis         `yaml:"basis" doc:"How its figures are known." json:"basis,omitzero"`
}

// SetPlace keeps the place.
func (r *Rail) SetPlace(at finding.Place) { r.At = at }

// Source is one publication that figures were taken from.
type Source struct {
	ID      Text `yaml:"id" need:"yes" eg:"S1" doc:"Its name." json:"id"`
	Title   Text `yaml:"title" need:"yes" eg:"measured with a caliper" doc:"What it is." json:"title"`
	Where   Text `yaml:"where" doc:"Page or figure." json:"where,omitzero"`
	Address Text `yaml:"address" doc:"Where it is found." json:"address,omitzero"`
	Licence Text `yaml:"licence" doc:"Its licence." json:"licence,omitzero"`
}
