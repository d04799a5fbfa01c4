package board

import (
	"embed"
	"fmt"
	"slices"
	"sync"

	"dropwright/bundle/finding"
	"dropwright/bundle/source"
)

//go:embed profiles/*.yaml
var profileFiles embed.FS

// apertureFamily stands for an opening whose size the board's standard gives itself.
const apertureFamily = "panel-aperture"

// Body is the size of something across the board's edge (Width), above the board (Height) and into it
// (Depth or Length); Round is a diameter in place of width and height.
type Body struct {
	Width  Length  `yaml:"width" doc:"Across the edge." json:"width,omitzero"`
	Height Length  `yaml:"height" doc:"Above the board." json:"height,omitzero"`
	Depth  Length  `yaml:"depth" doc:"Into the board." json:"depth,omitzero"`
	Length Length  `yaml:"length" doc:"Along the plug." json:"length,omitzero"`
	Round  Length  `yaml:"round" doc:"Diameter, where it is round." json:"round,omitzero"`
	Flange Lengths `yaml:"flange" doc:"Width and height of a flange." json:"flange,omitzero"`
}

// Family is a kind of connector: its receptacle, the opening that clears it, the plug that goes in.
type Family struct {
	ID               string  `yaml:"" json:"id"`
	Body             Body    `yaml:"body" doc:"Receptacle on the board." json:"body,omitzero"`
	AxisZ            Length  `yaml:"axis_z" doc:"Centre line above the board face it sits on." json:"axis_z,omitzero"`
	Mouth            Lengths `yaml:"mouth" doc:"Opening of the receptacle, width and height." json:"mouth,omitzero"`
	MouthRound       Length  `yaml:"mouth_round" doc:"Opening of the receptacle, diameter." json:"mouth_round,omitzero"`
	ShellOpening     Lengths `yaml:"shell_opening" doc:"Smallest wall opening that clears the receptacle." json:"shell_opening,omitzero"`
	ShellRound       Length  `yaml:"shell_opening_round" doc:"The same, diameter." json:"shell_opening_round,omitzero"`
	KeepClearRound   Length  `yaml:"keep_clear_round" doc:"Diameter to keep clear in front." json:"keep_clear_round,omitzero"`
	PanelHole        Length  `yaml:"panel_mount_hole" doc:"Hole for the kind that is screwed to the panel." json:"panel_mount_hole,omitzero"`
	PanelThickness   Length  `yaml:"panel_thickness_max" doc:"Thickest panel for it." json:"panel_thickness_max,omitzero"`
	Plug             Body    `yaml:"plug" doc:"Largest plug body." json:"plug,omitzero"`
	PlugRound        Length  `yaml:"plug_round" doc:"The same, diameter." json:"plug_round,omitzero"`
	Setback          Length  `yaml:"setback" doc:"Largest distance from face to outer wall at which the shell opening is enough." json:"setback,omitzero"`
	SetbackRelaxed   Length  `yaml:"setback_relaxed" doc:"The same by a less strict source." json:"setback_relaxed,omitzero"`
	Barrel           Barrel  `yaml:"barrel" doc:"Barrel of a power plug." json:"barrel,omitzero"`
	Jack             Jack    `yaml:"jack" doc:"Jack of a power plug." json:"jack,omitzero"`
	Card             Card    `yaml:"card" doc:"Card that goes in." json:"card,omitzero"`
	MatedLength      Length  `yaml:"mated_length" doc:"Depth with the plug in." json:"mated_length,omitzero"`
	Pitch            Length  `yaml:"pitch" doc:"Between pins." json:"pitch,omitzero"`
	Body2x20         Body    `yaml:"body_2x20" doc:"Body of two rows of twenty." json:"body_2x20,omitzero"`
	HeightAboveBoard Length  `yaml:"height_above_board" doc:"Above the board." json:"height_above_board,omitzero"`
	Post             Length  `yaml:"post" doc:"Side of the square post." json:"post,omitzero"`
	Basis            Basis   `yaml:"basis" doc:"How its figures are known." json:"basis,omitzero"`
	Sources          []Text  `yaml:"sources" doc:"Where they come from." json:"sources,omitempty"`
}

// Barrel is the two diameters of a power plug.
type Barrel struct {
	Outer Length `yaml:"outer" doc:"Outer diameter." json:"outer,omitzero"`
	Inner Length `yaml:"inner" doc:"Inner diameter." json:"inner,omitzero"`
	Pin   Length `yaml:"pin" doc:"Pin of the jack." json:"pin,omitzero"`
}

// Jack is a power jack's opening.
type Jack struct {
	Hole     Length `yaml:"hole_round" doc:"Diameter of the opening." json:"hole_round,omitzero"`
	Pin      Length `yaml:"pin" doc:"Diameter of the pin." json:"pin,omitzero"`
	Polarity Text   `yaml:"polarity" doc:"centre-positive or centre-negative." json:"polarity,omitzero"`
}

// Card is a memory card.
type Card struct {
	Width     Length `yaml:"width" doc:"Width." json:"width,omitzero"`
	Length    Length `yaml:"length" doc:"Length." json:"length,omitzero"`
	Thickness Length `yaml:"thickness" doc:"Thickness." json:"thickness,omitzero"`
}

// families is the table of connectors as its file has it.
type families struct {
	Format   Number   `yaml:"connectors" need:"yes"`
	Families famTable `yaml:"families" need:"yes"`
	Sources  []Source `yaml:"sources"`
}

type famTable struct{ list []*Family }

// Entry makes room for one family.
func (t *famTable) Entry(key string, at finding.Place) (any, error) {
	f := &Family{ID: key}
	t.list = append(t.list, f)
	return f, nil
}

// loadedFamilies reads the built-in table at first use. It is part of the program: a mistake in it is
// a mistake of the build, which the package's test finds, hence the panic.
var loadedFamilies = sync.OnceValue(func() *families {
	const name = "connectors.yaml"
	data, err := profileFiles.ReadFile("profiles/" + name)
	if err != nil {
		panic(fmt.Sprintf("board: %v", err))
	}
	root, _, found := source.Parse(name, data)
	f := &families{}
	if root != nil {
		found = append(found, source.Decode(root, f)...)
	}
	if root == nil || len(found) > 0 {
		panic(fmt.Sprintf("board: %v: %s", found[0].At, found[0].Text))
	}
	return f
})

// Families lists the connector families in the order of the table.
func Families() []string {
	list := make([]string, 0, len(loadedFamilies().Families.list))
	for _, f := range loadedFamilies().Families.list {
		list = append(list, f.ID)
	}
	return list
}

// FamilyOf returns a connector family; ok is false for an unknown one. It must not be changed.
func FamilyOf(id string) (f *Family, ok bool) {
	list := loadedFamilies().Families.list
	i := slices.IndexFunc(list, func(f *Family) bool { return f.ID == id })
	if i < 0 {
		return nil, false
	}
	return list[i], true
}

// ConnectorSources returns the sources of the connector families.
func ConnectorSources() []Source { return slices.Clone(loadedFamilies().Sources) }
