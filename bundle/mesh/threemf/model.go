package threemf

import (
	"fmt"
	"strconv"

	"dropwright/bundle/mesh"
)

// Model is what a 3MF package says. It is complete and consistent when Decode returns it: every
// reference leads somewhere and the build can be placed. It is not changed after that, so several
// goroutines may read it.
type Model struct {
	Unit       string     // of the root model part as written, "millimeter" if it does not say
	Language   string     // xml:lang of the root model part, often empty
	Metadata   []Metadata // of the model, of objects and of build items, in the order of the file
	Comments   []string   // XML comments of the model parts (the first hundred, cut at 1000 bytes)
	Materials  []MaterialGroup
	Colors     []ColorGroup
	Objects    []Object
	Build      []Item
	Parts      []Part // every part of the package, in the order of the zip
	Thumbnails []Thumbnail
	Warnings   []string // what is against the standard or was left out, but does not spoil the geometry

	leaves [][]leaf // for each build item, the meshes it places
}

// Metadata is one named value. It is kept as written, for the check of what leaks.
type Metadata struct {
	Where string // "model", "object 4", "item 2"
	Name  string // with its prefix, as written
	Value string
}

// Color is a colour for display, sRGB, eight bits a channel; A is 255 where the file gives none.
type Color struct{ R, G, B, A uint8 }

// String gives #RRGGBB, or #RRGGBBAA for a colour that is not opaque.
func (c Color) String() string {
	if c.A == 255 {
		return fmt.Sprintf("#%02X%02X%02X", c.R, c.G, c.B)
	}
	return fmt.Sprintf("#%02X%02X%02X%02X", c.R, c.G, c.B, c.A)
}

// parseColor reads #RRGGBB or #RRGGBBAA (ST_ColorValue).
func parseColor(s string) (Color, error) {
	if (len(s) == 7 || len(s) == 9) && s[0] == '#' {
		if n, err := strconv.ParseUint(s[1:], 16, 32); err == nil {
			if len(s) == 7 {
				n = n<<8 | 255
			}
			return Color{uint8(n >> 24), uint8(n >> 16), uint8(n >> 8), uint8(n)}, nil
		}
	}
	return Color{}, fmt.Errorf("colour %q is not of the form #RRGGBB or #RRGGBBAA", s)
}

// Key names a resource: ids are unique within one model part only.
type Key struct {
	Part string // the model part, "/3D/3dmodel.model"
	ID   uint32
}

// Material is one base material (5.1).
type Material struct {
	Name  string
	Color Color
}

// MaterialGroup is a basematerials resource.
type MaterialGroup struct {
	Key
	Materials []Material
}

// ColorGroup is a colorgroup resource of the materials extension 1.2.1.
type ColorGroup struct {
	Key
	Colors []Color
}

// Object is an object resource: a mesh or components, never both.
type Object struct {
	Key
	Name       string
	PartNumber string
	Type       string // model (the default), solidsupport, support, surface, other
	Mesh       *mesh.Mesh
	Components []Component
	Uses       []Use // properties of the object and its triangles, in order of group and index
}

// Component places another object within an object.
type Component struct {
	Object    Key
	Transform Transform
}

// Use tells how many triangles carry one property.
type Use struct {
	Group     uint32 // id of a group in the part of the object
	Index     uint32
	Triangles int
}

// Item is one thing on the build plate.
type Item struct {
	Object     Key
	Transform  Transform
	PartNumber string
}

// Kinds of parts.
const (
	KindModel        = "model"
	KindContentTypes = "content types"
	KindRelations    = "relationships"
	KindThumbnail    = "thumbnail"
	KindForeign      = "foreign"
)

// Part is one part of the package. Foreign are all that this package does not read: settings of
// programs, print tickets, textures. They may hold names of people, paths and addresses.
type Part struct {
	Name  string // as in the zip, without leading slash
	Kind  string // one of the Kind constants
	Type  string // content type, empty if the package declares none
	Bytes int64  // unpacked
}

// Thumbnail is a picture within the package, as it stands there (a JPEG may carry EXIF).
type Thumbnail struct {
	Name string
	Type string // content type
	Data []byte
}

// Foreign lists the names of the foreign parts.
func (m *Model) Foreign() []string {
	var names []string
	for _, p := range m.Parts {
		if p.Kind == KindForeign {
			names = append(names, p.Name)
		}
	}
	return names
}

// unitScale gives millimetres for one unit (3.4, ST_Unit); 0 for an unknown one.
func unitScale(unit string) float64 {
	switch unit {
	case "micron":
		return 0.001
	case "millimeter":
		return 1
	case "centimeter":
		return 10
	case "inch":
		return 25.4
	case "foot":
		return 304.8
	case "meter":
		return 1000
	}
	return 0
}
