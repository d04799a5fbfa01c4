package design

// The types below are texts that must be one of a few words.

// Teaser says what the public may know of a design before its day.
type Teaser string

// Words lists them; the first is the default.
func (Teaser) Words() []string { return []string{"nothing", "title", "picture"} }

// Role says what a printed part is for.
type Role string

// Words lists them; the first is the default.
func (Role) Words() []string { return []string{"part", "jig", "spare", "reference"} }

// Supports says whether the part is printed with support material.
type Supports string

// Words lists them; the first is the default.
func (Supports) Words() []string { return []string{"none", "needed"} }

// Frame says how the meshes of a design lie: in one common frame as assembled, or each as printed.
type Frame string

// Words lists them; the second is the default.
func (Frame) Words() []string { return []string{"assembled", "as-printed"} }

// Face is a side of a part or board that lies down or looks up.
type Face string

// Words lists the six directions of an outward normal.
func (Face) Words() []string { return []string{"-z", "+z", "-x", "+x", "-y", "+y"} }

// BoardFace says which side of a board looks up (away from the floor of the part it sits in).
type BoardFace string

// Words lists them; the first is the default.
func (BoardFace) Words() []string { return []string{"up", "down"} }

// Head is the shape of a screw's head; the standard follows from it.
type Head string

// Words lists them. socket: ISO 4762; button: ISO 7380-1; countersunk: ISO 10642; pan: ISO 7045;
// countersunk-cross: ISO 7046-1; hex: ISO 4017; set: ISO 4026 (headless).
func (Head) Words() []string {
	return []string{"socket", "button", "countersunk", "pan", "countersunk-cross", "hex", "set"}
}

// Ends says what the two ends of a standoff are.
type Ends string

// Words lists them.
func (Ends) Words() []string { return []string{"female-female", "female-male", "male-male"} }

// Hazard says what can hurt in a bought part.
type Hazard string

// Words lists them.
func (Hazard) Words() []string { return []string{"none", "mains", "lithium", "hot", "laser", "magnet"} }

// Caution is what a step warns of.
type Caution string

// Words lists them.
func (Caution) Words() []string {
	return []string{"hot", "fumes", "sharp", "esd", "polarity", "mains", "lithium", "small-parts", "ventilation", "magnets", "eyes", "pinch"}
}

// Audience is who a thing goes to.
type Audience string

// Words lists the two that every series has; more paying groups are declared in the series by name.
func (Audience) Words() []string { return []string{"early", "public"} }

// View says from which side wiring is seen.
type View string

// Words lists them.
func (View) Words() []string { return []string{"component side", "solder side"} }

// LeadRole is what a bought part's lead carries.
type LeadRole string

// Words lists them.
func (LeadRole) Words() []string {
	return []string{"supply", "ground", "signal", "input", "output", "plus", "minus", "live", "neutral", "earth"}
}
