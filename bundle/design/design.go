package design

import (
	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

// Plain is the name of the one variant of a design without `variants`.
const Plain = "plain"

// Design is everything a design.yaml says.
type Design struct {
	Folder string `yaml:""` // the design's name: its folder under designs/
	File   string `yaml:""` // the manifest's path as shown in findings

	At         finding.Place
	Title      Val[Text]     `yaml:"title" need:"yes" eg:"Twine Hook" doc:"What the design is called."`
	Summary    Val[Text]     `yaml:"summary" need:"yes" eg:"Holds a ball of twine on a 25 mm rail." doc:"One sentence that says what it does."`
	Changes    []Change      `yaml:"changes" need:"yes" eg:"[{revision: 1.0.0, date: 2027-01-05, text: first release}]" doc:"What changed, newest first; the top entry is the present revision."`
	Story      Val[Path]     `yaml:"story" doc:"Markdown file with the text of the announcement."`
	UsedIn     []Val[Text]   `yaml:"used_in" doc:"Where it is used, for checks of the material: outdoors, greenhouse, car, window."`
	Teaser     Val[Teaser]   `yaml:"teaser" doc:"What the public may know before its day."`
	Variants   []Variant     `yaml:"variants" doc:"The buildable versions: a board, a size, an option."`
	Colours    Dict[Palette] `yaml:"colours" doc:"Colour roles of the design, each with a filament of the series or a list of them; the first is what pictures and counts use."`
	Parts      []Part        `yaml:"parts" need:"yes" eg:"[{name: hook, colour: body, mesh: meshes/hook.stl}]" doc:"The printed parts."`
	Bought     []Bought      `yaml:"bought" doc:"What is bought in."`
	Fasteners  []Fastener    `yaml:"fasteners" doc:"Screws, inserts, nuts, standoffs, each with what it joins."`
	Wiring     Wiring        `yaml:"wiring" doc:"Which lead goes to which pin."`
	Assembly   []Step        `yaml:"assembly" doc:"The steps, in order."`
	Photos     []Photo       `yaml:"photos" doc:"Pictures of the finished thing."`
	Credits    []Credit      `yaml:"credits" doc:"Whose work this rests on."`
	UseAsIs    []AsIs        `yaml:"use_as_is" doc:"Warnings taken as they are, each with a reason."`
	Supplies   []Supply      `yaml:"supplies" doc:"Glue, grease, solder: used but not counted."`
	Links      []Link        `yaml:"links" doc:"Addresses that belong to the design."`
	Page       Val[URL]      `yaml:"page" doc:"The design's own page."`
	Extras     []Extra       `yaml:"extras" doc:"Further files that go into the bundle."`
	Supplied   []Gift        `yaml:"supplied" doc:"What somebody gave, and whether that is said."`
	PinsIn     Val[Path]     `yaml:"pins_in" doc:"Firmware file whose pin constants must agree with the wiring."`
	Frame      Val[Frame]    `yaml:"frame" doc:"Whether the meshes share one frame as assembled."`
	Licence    Val[Text]     `yaml:"licence" doc:"SPDX id; default: the series' licence."`
	Licences   Licences      `yaml:"licences" doc:"SPDX ids by kind of file."`
	ExtraTerms Val[Text]     `yaml:"extra_terms" doc:"Conditions beside the licence."`
}

// Palette is the filaments a colour role may have; the first is what pictures and counts use.
type Palette = OneOrMore[Name]

// Change is one entry of the list of changes.
type Change struct {
	At       finding.Place
	Revision Val[Revision] `yaml:"revision" need:"yes" eg:"1.0.0" doc:"MAJOR.MINOR.PATCH."`
	Date     Val[Date]     `yaml:"date" need:"yes" eg:"2027-01-05" doc:"Date of the revision."`
	Text     Val[Text]     `yaml:"text" need:"yes" eg:"first release" doc:"What changed, in one sentence."`
	Answers  []Val[Name]   `yaml:"answers" doc:"Builders' reports that it settles: [r3]."`
}

// Variant is a buildable version of the design.
type Variant struct {
	At             finding.Place
	Name           Val[Name]   `yaml:"name" need:"yes" doc:"The variant's name."`
	Title          Val[Text]   `yaml:"title" doc:"How people call it."`
	Board          Val[Text]   `yaml:"board" doc:"Board profile: a built-in id or a file of the design."`
	SitsIn         Val[Name]   `yaml:"sits_in" doc:"The part the board sits in."`
	Seat           Seat        `yaml:"seat" doc:"Where the board sits; found from the holes when left out."`
	BoardRevisions []Val[Text] `yaml:"board_revisions" doc:"Revisions of the board that the variant was made for."`
	Boards         []BoardUse  `yaml:"boards" doc:"Several boards, each with a name."`
	Availability   Val[Text]   `yaml:"availability" doc:"A word on how hard it is to get."`
}

// BoardUse is one board of a variant.
type BoardUse struct {
	At      finding.Place
	Name    Val[Name] `yaml:"name" need:"yes" doc:"How wiring and steps call it."`
	Profile Val[Text] `yaml:"profile" need:"yes" doc:"Board profile: a built-in id or a file of the design."`
	SitsIn  Val[Name] `yaml:"sits_in" doc:"The part it sits in."`
	Seat    Seat      `yaml:"seat" doc:"Where it sits; found from the holes when left out."`
}

// Seat is a typed placement of a board in a part.
type Seat struct {
	Where finding.Place
	At    []Val[unit.Length] `yaml:"at" doc:"Position of the board's origin in the part, [x, y, z]."`
	Turn  Val[unit.Angle]    `yaml:"turn" doc:"Turn about the part's z axis."`
	Face  Val[BoardFace]     `yaml:"face" doc:"Which side looks up."`
}

// SetPlace keeps the place.
func (s *Seat) SetPlace(at finding.Place) { s.Where = at }

// Part is one printed part.
type Part struct {
	At       finding.Place
	Name     Val[Name]          `yaml:"name" need:"yes" eg:"hook" doc:"The part's name."`
	Title    Val[Text]          `yaml:"title" doc:"How people call it."`
	For      Val[Text]          `yaml:"for" doc:"What it is for."`
	Colour   Val[Name]          `yaml:"colour" doc:"A colour role of the design."`
	Mesh     ByVariant[Path]    `yaml:"mesh" doc:"The mesh file."`
	Copies   ByVariant[Int]     `yaml:"copies" doc:"How many are printed as drawn; 1 when left out."`
	Mirrored ByVariant[Int]     `yaml:"mirrored" doc:"How many are printed as the mirror image."`
	From     OneOrMore[Path]    `yaml:"from" doc:"Editable source files."`
	Print    Print              `yaml:"print" doc:"Print settings that differ from the series'."`
	StandOn  Val[Face]          `yaml:"stand_on" doc:"The face whose outward normal this is lies on the bed."`
	Supports Val[Supports]      `yaml:"supports" doc:"Whether support material is needed."`
	Role     Val[Role]          `yaml:"role" doc:"What it is: part, jig, spare, or reference (not for printing)."`
	Size     []Val[unit.Length] `yaml:"size" doc:"Expected size, [x, y, z]."`
	Place    []Placement        `yaml:"place" doc:"Where its copies sit in the assembly."`
	Toolpath Val[Path]          `yaml:"toolpath" doc:"A toolpath made from this mesh."`
	Optional Val[Bool]          `yaml:"optional" doc:"Need not be built."`
	Audience Val[Audience]      `yaml:"audience" doc:"Only for this audience."`
	Only     Only               `yaml:"only" doc:"Only for these variants."`
}

// SetPlace keeps the place.
func (p *Part) SetPlace(at finding.Place) { p.At = at }

// Placement is where one copy sits.
type Placement struct {
	At   []Val[unit.Length] `yaml:"at" doc:"[x, y, z]"`
	Turn []Val[unit.Angle]  `yaml:"turn" doc:"Turns about x, y, z, in that order."`
}

// Print is print settings; a setting that was not written falls back to the series'.
type Print struct {
	Where          finding.Place
	Layer          Val[unit.Length] `yaml:"layer" doc:"Layer height."`
	FirstLayer     Val[unit.Length] `yaml:"first_layer" doc:"Height of the first layer."`
	Line           Val[unit.Length] `yaml:"line" doc:"Line width."`
	Walls          Val[Int]         `yaml:"walls" doc:"How many lines a wall has."`
	Solid          SolidLayers      `yaml:"solid" doc:"Solid layers at top and bottom."`
	Infill         Val[unit.Share]  `yaml:"infill" doc:"Share of the inside that is filled: 15 %."`
	HoleAllowance  Val[unit.Length] `yaml:"hole_allowance" doc:"How much smaller than drawn a printed hole comes out, across."`
	Supports       Val[Supports]    `yaml:"supports" doc:"Whether support material is needed."`
	LimitAngle     Val[unit.Angle]  `yaml:"limit_angle" doc:"Overhang from the vertical beyond which support is needed."`
	SupportDensity Val[unit.Share]  `yaml:"support_density" doc:"Share of the support's volume that is filled."`
	Brim           Val[unit.Length] `yaml:"brim" doc:"Width of a brim around the first layer."`
}

// SetPlace keeps the place.
func (p *Print) SetPlace(at finding.Place) { p.Where = at }

// SolidLayers is how many layers at top and bottom are solid.
type SolidLayers struct {
	Top    Val[Int] `yaml:"top" doc:"Solid layers at the top."`
	Bottom Val[Int] `yaml:"bottom" doc:"Solid layers at the bottom."`
}

// Over returns p with what it leaves out taken from base: a part's settings over the series'.
func (p Print) Over(base Print) Print {
	out := base
	pick(&out.Layer, p.Layer)
	pick(&out.FirstLayer, p.FirstLayer)
	pick(&out.Line, p.Line)
	pick(&out.Walls, p.Walls)
	pick(&out.Solid.Top, p.Solid.Top)
	pick(&out.Solid.Bottom, p.Solid.Bottom)
	pick(&out.Infill, p.Infill)
	pick(&out.HoleAllowance, p.HoleAllowance)
	pick(&out.Supports, p.Supports)
	pick(&out.LimitAngle, p.LimitAngle)
	pick(&out.SupportDensity, p.SupportDensity)
	pick(&out.Brim, p.Brim)
	return out
}

func pick[T any](into *Val[T], over Val[T]) {
	if over.Set() {
		*into = over
	}
}

// Change's, Variant's and BoardUse's places.

// SetPlace keeps the place.
func (c *Change) SetPlace(at finding.Place) { c.At = at }

// SetPlace keeps the place.
func (v *Variant) SetPlace(at finding.Place) { v.At = at }

// SetPlace keeps the place.
func (b *BoardUse) SetPlace(at finding.Place) { b.At = at }

// SetPlace keeps the place.
func (d *Design) SetPlace(at finding.Place) { d.At = at }
