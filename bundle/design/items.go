package design

import (
	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

// Bought is something bought in.
type Bought struct {
	At         finding.Place
	Name       Val[Name]              `yaml:"name" need:"yes" eg:"servo" doc:"How steps, joints and wiring call it."`
	What       Val[Text]              `yaml:"what" need:"yes" eg:"servo 23 x 12" doc:"What to order, in words a shop understands."`
	Size       Size                   `yaml:"size" doc:"Its outer size."`
	Thickness  Val[unit.Length]       `yaml:"thickness" doc:"What a fastener that passes through it clamps."`
	Count      ByVariant[Quantity]    `yaml:"count" doc:"How many, or how much of the unit; 1 when left out."`
	Unit       Val[Text]              `yaml:"unit" doc:"Unit of count when it is not pieces: m, g."`
	Pack       Val[Quantity]          `yaml:"pack" doc:"How many come in one pack."`
	PackPrice  Val[unit.Money]        `yaml:"pack_price" doc:"Price of a pack."`
	Price      Val[unit.Money]        `yaml:"price" doc:"Price of one."`
	Instead    []Instead              `yaml:"instead" doc:"What may be used in its place."`
	Threads    Dict[Val[unit.Length]] `yaml:"threads" doc:"Threaded holes it has: thread and depth."`
	Volts      Range[unit.Voltage]    `yaml:"volts" doc:"Rated supply, one value or [lowest, highest]."`
	StartsAt   Val[unit.Voltage]      `yaml:"starts_at" doc:"Lowest voltage at which it starts."`
	Milliamps  Val[unit.Current]      `yaml:"milliamps" doc:"Current it draws."`
	Leads      Dict[Val[LeadRole]]    `yaml:"leads" doc:"Its leads: colour or name, and what each carries."`
	Hazard     Val[Hazard]            `yaml:"hazard" doc:"What can hurt."`
	Consumable Val[Bool]              `yaml:"consumable" doc:"Used up as needed; need not balance."`
	Optional   Val[Bool]              `yaml:"optional" doc:"Need not be bought."`
	Only       Only                   `yaml:"only" doc:"Only for these variants."`
}

// SetPlace keeps the place.
func (b *Bought) SetPlace(at finding.Place) { b.At = at }

// Size is an outer size; which fields apply depends on the thing.
type Size struct {
	Diameter Val[unit.Length] `yaml:"diameter" doc:"Outer diameter."`
	Bore     Val[unit.Length] `yaml:"bore" doc:"Inner diameter."`
	Height   Val[unit.Length] `yaml:"height" doc:"Height or thickness."`
	Length   Val[unit.Length] `yaml:"length" doc:"Length."`
	Width    Val[unit.Length] `yaml:"width" doc:"Width."`
}

// Instead is a replacement for a bought part.
type Instead struct {
	What Val[Text] `yaml:"what" doc:"What to order."`
	Size Size      `yaml:"size" doc:"Its size."`
	Note Val[Text] `yaml:"note" doc:"What changes with it."`
}

// Fastener is one joint: a screw or standoff, what it passes through and goes into.
type Fastener struct {
	At         finding.Place
	Name       Val[Name]       `yaml:"name" need:"yes" eg:"lid-screw" doc:"How steps and other joints call it."`
	Screw      ByVariant[Text] `yaml:"screw" doc:"Designation: M3x16, or ISO 4762 - M3 x 16."`
	Standoff   ByVariant[Text] `yaml:"standoff" doc:"Designation of a standoff: M2.5x10."`
	Head       Val[Head]       `yaml:"head" doc:"Shape of the head; the standard follows from it."`
	Drive      Val[Text]       `yaml:"drive" doc:"What turns it: hex socket, cross, hexalobular."`
	Ends       Val[Ends]       `yaml:"ends" doc:"What the ends of a standoff are."`
	Count      ByVariant[Int]  `yaml:"count" doc:"How many; 1 when left out."`
	Through    []Val[Name]     `yaml:"through" doc:"What it passes, head first: parts, bought parts, board, washer."`
	Into       Into            `yaml:"into" doc:"What it goes into: a part's plastic, a bought part, a standoff, an insert or a nut."`
	Pack       Val[Quantity]   `yaml:"pack" doc:"How many come in one pack."`
	PackPrice  Val[unit.Money] `yaml:"pack_price" doc:"Price of a pack."`
	Price      Val[unit.Money] `yaml:"price" doc:"Price of one."`
	Optional   Val[Bool]       `yaml:"optional" doc:"Need not be used."`
	Consumable Val[Bool]       `yaml:"consumable" doc:"Used up as needed; need not balance."`
	Only       Only            `yaml:"only" doc:"Only for these variants."`
}

// SetPlace keeps the place.
func (f *Fastener) SetPlace(at finding.Place) { f.At = at }

// Designation returns the screw or standoff for a variant.
func (f Fastener) Designation(variant string) (Val[Text], bool) {
	if f.Screw.Set() {
		return f.Screw.For(variant)
	}
	return f.Standoff.For(variant)
}

// Into is what a fastener goes into. Written as a name it is a part (a thread formed in its plastic), a
// bought part or a standoff; written as a map it is an insert or a nut.
type Into struct {
	At     finding.Place
	Target Val[Name]
	Held   *IntoMap
}

// IntoMap is the long form of Into.
type IntoMap struct {
	Insert *InsertUse `yaml:"insert" doc:"A heat-set insert."`
	Nut    Val[Text]  `yaml:"nut" doc:"Designation of a nut: ISO 4032."`
	In     Val[Name]  `yaml:"in" doc:"The part whose pocket holds it; left out: loose behind."`
}

// InsertUse is the insert of a joint.
type InsertUse struct {
	At     finding.Place
	Thread Val[Text]        `yaml:"thread" need:"yes" eg:"M3" doc:"Its thread."`
	Outer  Val[unit.Length] `yaml:"outer" need:"yes" eg:"4.6" doc:"Its outer diameter."`
	Length Val[unit.Length] `yaml:"length" need:"yes" eg:"5.7" doc:"Its length."`
}

// SetPlace keeps the place.
func (i *InsertUse) SetPlace(at finding.Place) { i.At = at }

// SetPlace keeps the place.
func (i *Into) SetPlace(at finding.Place) { i.At = at }

// ScalarForm decodes a name.
func (i *Into) ScalarForm() any { return &i.Target }

// MapForm decodes an insert or a nut.
func (i *Into) MapForm() any { i.Held = new(IntoMap); return i.Held }

// Set reports whether it was written.
func (i Into) Set() bool { return i.At.Known() }

// Part returns the name of the part that holds the thread, insert or nut; "" when loose.
func (i Into) Part() Val[Name] {
	if i.Held != nil {
		return i.Held.In
	}
	return i.Target
}

// Wiring is which lead goes to which pin.
type Wiring struct {
	At       finding.Place
	SeenFrom Val[View]   `yaml:"seen_from" doc:"The side from which the drawing is seen."`
	Rows     []WiringRow `yaml:"rows" doc:"One row a connection."`
}

// SetPlace keeps the place.
func (w *Wiring) SetPlace(at finding.Place) { w.At = at }

// WiringRow is one connection.
type WiringRow struct {
	At     finding.Place
	From   Val[Text]        `yaml:"from" need:"yes" eg:"servo.red" doc:"A lead: bought.lead."`
	To     Val[Text]        `yaml:"to" need:"yes" eg:"board.5V" doc:"A pin or rail: board.rail, or board.header.pin."`
	Length Val[unit.Length] `yaml:"length" doc:"Length of the wire."`
	Colour Val[Text]        `yaml:"colour" doc:"Colour of the wire."`
	Note   Val[Text]        `yaml:"note" doc:"What to mind."`
	Only   Only             `yaml:"only" doc:"Only for these variants."`
}

// SetPlace keeps the place.
func (r *WiringRow) SetPlace(at finding.Place) { r.At = at }

// Step is one assembly step.
type Step struct {
	At       finding.Place
	Title    Val[Text]                 `yaml:"title" need:"yes" eg:"Fit the board" doc:"What is done."`
	Text     Val[Text]                 `yaml:"text" doc:"How, in short sentences; or a Markdown file of the design."`
	Uses     Dict[ByVariant[Quantity]] `yaml:"uses" doc:"What it uses up: names and counts."`
	Makes    Val[Name]                 `yaml:"makes" doc:"The sub-assembly it makes."`
	Times    Val[Int]                  `yaml:"times" doc:"How often it is done; 1 when left out."`
	After    []Val[Text]               `yaml:"after" doc:"What must be done before."`
	Tools    []Val[Text]               `yaml:"tools" doc:"What is needed in the hand."`
	Cautions []Val[Caution]            `yaml:"cautions" doc:"What can hurt."`
	Picture  Picture                   `yaml:"picture" doc:"A picture of the step."`
	Only     Only                      `yaml:"only" doc:"Only for these variants."`
}

// SetPlace keeps the place.
func (s *Step) SetPlace(at finding.Place) { s.At = at }

// Repeats is how often the step is done.
func (s Step) Repeats() int { return int(s.Times.Or(1)) }

// Picture is a picture file with its alternative text.
type Picture struct {
	Where finding.Place
	File  Val[Path] `yaml:"file" need:"yes" doc:"JPEG or PNG."`
	Alt   Val[Text] `yaml:"alt" doc:"What it shows, for who cannot see it."`
}

// SetPlace keeps the place.
func (p *Picture) SetPlace(at finding.Place) { p.Where = at }

// Photo is a picture of the finished thing.
type Photo struct {
	At    finding.Place
	File  Val[Path]   `yaml:"file" need:"yes" eg:"photos/front.jpg" doc:"JPEG or PNG."`
	Alt   Val[Text]   `yaml:"alt" doc:"What it shows, for who cannot see it."`
	Shows []Val[Name] `yaml:"shows" doc:"The parts it shows."`
	Cover Val[Bool]   `yaml:"cover" doc:"The picture that stands for the design."`
	Only  Only        `yaml:"only" doc:"Only for these variants."`
}

// SetPlace keeps the place.
func (p *Photo) SetPlace(at finding.Place) { p.At = at }

// Credit says whose work the design rests on.
type Credit struct {
	At      finding.Place
	What    Val[Text] `yaml:"what" need:"yes" doc:"What was taken."`
	By      Val[Text] `yaml:"by" need:"yes" doc:"Whose it is; own work counts."`
	Link    Val[URL]  `yaml:"link" doc:"Where it is found."`
	Licence Val[Text] `yaml:"licence" doc:"Its SPDX id."`
	Changed Val[Text] `yaml:"changed" doc:"What was changed."`
}

// SetPlace keeps the place.
func (c *Credit) SetPlace(at finding.Place) { c.At = at }

// AsIs takes a warning as it is.
type AsIs struct {
	At      finding.Place
	Code    Val[Text] `yaml:"code" need:"yes" doc:"The warning's code."`
	Because Val[Text] `yaml:"because" need:"yes" doc:"Why it is meant so."`
}

// SetPlace keeps the place.
func (a *AsIs) SetPlace(at finding.Place) { a.At = at }

// Supply is used but not counted.
type Supply struct {
	What     Val[Text]      `yaml:"what" need:"yes" doc:"What it is."`
	Cautions []Val[Caution] `yaml:"cautions" doc:"What can hurt."`
	Only     Only           `yaml:"only" doc:"Only for these variants."`
}

// Link is an address that belongs to the design.
type Link struct {
	What     Val[Text]     `yaml:"what" need:"yes" doc:"What is there."`
	URL      Val[URL]      `yaml:"url" need:"yes" doc:"The address."`
	Audience Val[Audience] `yaml:"audience" doc:"Only for this audience."`
}

// Extra is a further file that goes into the bundle.
type Extra struct {
	At       finding.Place
	File     Val[Path]     `yaml:"file" need:"yes" doc:"The file."`
	What     Val[Text]     `yaml:"what" doc:"What it is."`
	Audience Val[Audience] `yaml:"audience" doc:"Only for this audience."`
	Only     Only          `yaml:"only" doc:"Only for these variants."`
}

// SetPlace keeps the place.
func (e *Extra) SetPlace(at finding.Place) { e.At = at }

// Gift is what somebody gave for the design.
type Gift struct {
	What     Val[Text] `yaml:"what" need:"yes" doc:"What was given."`
	By       Val[Text] `yaml:"by" need:"yes" doc:"By whom."`
	Disclose Val[Bool] `yaml:"disclose" doc:"Whether the sheet says so."`
}

// Licences are SPDX ids by kind of file.
type Licences struct {
	Models Val[Text] `yaml:"models" doc:"For meshes and CAD sources."`
	Texts  Val[Text] `yaml:"texts" doc:"For texts and pictures."`
	Code   Val[Text] `yaml:"code" doc:"For firmware and scripts."`
}
