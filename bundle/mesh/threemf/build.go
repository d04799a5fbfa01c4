package threemf

import (
	"fmt"
	"slices"

	"dropwright/bundle/mesh"
)

// leaf is one mesh placed by the build, the transforms of all components on the way multiplied.
type leaf struct {
	object int // index into Model.Objects
	place  Transform
}

// weight is what an object places, components multiplied out. The numbers saturate: doubling components
// reach 2^64 in 64 lines of XML, so they are added up before anything is copied.
type weight struct {
	meshes, elements uint64 // elements: the larger of triangles and vertices of each mesh
	depth            int
	state            int // 0 new, 1 being weighed, 2 known
}

const saturated = 1 << 40

// resolve checks all references and limits, and multiplies out what the build places.
func (d *decoder) resolve() error {
	stored := uint64(0)
	for _, o := range d.model.Objects {
		if o.Mesh != nil {
			stored += uint64(max(len(o.Mesh.Triangles), len(o.Mesh.Vertices)))
		}
	}
	limit := max(stored, min(maxTriangles, freeTriangles+growthTriangles*stored))
	weights := make([]weight, len(d.model.Objects))
	var total weight
	for i, item := range d.model.Build {
		o, ok := d.objects[item.Object]
		if !ok {
			return fmt.Errorf("build item %d names object %d of %q, which is not in the file", i+1, item.Object.ID, item.Object.Part)
		}
		if err := d.weigh(weights, o, 0); err != nil {
			return err
		}
		total.meshes = min(saturated, total.meshes+weights[o].meshes)
		total.elements = min(saturated, total.elements+weights[o].elements)
	}
	// Objects outside the build are held to the same rules, or a later edit would bring the fault to light.
	for o := range d.model.Objects {
		if err := d.weigh(weights, o, 0); err != nil {
			return err
		}
	}
	if total.meshes > maxInstances {
		return fmt.Errorf("components multiply to more than %d placed meshes: it looks like a component bomb", maxInstances)
	}
	if total.elements > limit {
		return fmt.Errorf("components multiply to more than %d triangles from %d in the file: it looks like a component bomb", limit, stored)
	}
	if len(d.model.Build) == 0 {
		d.warn("the build is empty: nothing is to be printed")
	}
	for i, item := range d.model.Build {
		leaves := d.expand(nil, d.objects[item.Object], item.Transform)
		for _, l := range leaves {
			switch o := &d.model.Objects[l.object]; o.Type {
			case "other":
				return fmt.Errorf("build item %d places object %d of type other, which must not be built", i+1, o.ID)
			case "model":
			default:
				d.warn("build item %d holds object %d of type %s, which is not counted as part of the model", i+1, o.ID, o.Type)
			}
		}
		d.model.leaves = append(d.model.leaves, leaves)
	}
	return nil
}

// weigh fills weights[o] and all below it.
func (d *decoder) weigh(weights []weight, o, above int) error {
	w := &weights[o]
	object := &d.model.Objects[o]
	switch w.state {
	case 1:
		return fmt.Errorf("object %d of %q contains itself: a cycle of components", object.ID, object.Part)
	case 2:
		if above+w.depth > maxNesting {
			return fmt.Errorf("components are nested deeper than %d", maxNesting)
		}
		return nil
	}
	if above > maxNesting {
		return fmt.Errorf("components are nested deeper than %d", maxNesting)
	}
	w.state = 1
	sum := weight{state: 2}
	if object.Mesh != nil {
		sum.meshes = 1
		sum.elements = uint64(max(len(object.Mesh.Triangles), len(object.Mesh.Vertices)))
	}
	for _, c := range object.Components {
		child, ok := d.objects[c.Object]
		if !ok {
			return fmt.Errorf("object %d of %q has a component of object %d of %q, which is not in the file", object.ID, object.Part, c.Object.ID, c.Object.Part)
		}
		if err := d.weigh(weights, child, above+1); err != nil {
			return err
		}
		sum.meshes = min(saturated, sum.meshes+weights[child].meshes)
		sum.elements = min(saturated, sum.elements+weights[child].elements)
		sum.depth = max(sum.depth, weights[child].depth+1)
	}
	*w = sum
	return nil
}

func (d *decoder) expand(leaves []leaf, o int, place Transform) []leaf {
	object := &d.model.Objects[o]
	if object.Mesh != nil {
		return append(leaves, leaf{o, place})
	}
	for _, c := range object.Components {
		leaves = d.expand(leaves, d.objects[c.Object], c.Transform.Then(place))
	}
	return leaves
}

// Solid is what one build item places.
type Solid struct {
	Name       string // of the object
	PartNumber string // of the item, else of the object
	Type       string // "model", or the type of the first mesh if none is a model
	Materials  []Material
	Colors     []Color // of colour groups
	Mesh       *mesh.Mesh
}

// Items gives each build item as one mesh in millimetres on the plate, in the order of the build.
// Supports and surfaces are left out unless the item holds nothing else. Materials and Colors are
// those that its triangles use, without repetition, in the order of first use.
func (m *Model) Items() []Solid {
	solids := make([]Solid, 0, len(m.leaves))
	for i, leaves := range m.leaves {
		object := m.object(m.Build[i].Object)
		s := Solid{Type: "model"}
		if object != nil {
			s.Name, s.PartNumber = object.Name, object.PartNumber
		}
		if m.Build[i].PartNumber != "" {
			s.PartNumber = m.Build[i].PartNumber
		}
		if kept := m.printed(leaves); len(kept) > 0 {
			leaves = kept
		} else if len(leaves) > 0 {
			s.Type = m.Objects[leaves[0].object].Type
		}
		if s.Name == "" && len(leaves) == 1 {
			s.Name = m.Objects[leaves[0].object].Name
		}
		for _, l := range leaves {
			m.collect(&s, &m.Objects[l.object])
		}
		s.Mesh = m.merge(leaves)
		solids = append(solids, s)
	}
	return solids
}

// Mesh merges everything that the build prints into one mesh, in millimetres on the plate. Vertices
// stay separate unless the file shares them by index; supports and surfaces are left out. It is
// empty if the build is, and may be an object's own mesh where nothing is moved.
func (m *Model) Mesh() *mesh.Mesh {
	var all []leaf
	for _, leaves := range m.leaves {
		all = append(all, m.printed(leaves)...)
	}
	return m.merge(all)
}

func (m *Model) object(key Key) *Object {
	for i := range m.Objects {
		if m.Objects[i].Key == key {
			return &m.Objects[i]
		}
	}
	return nil
}

// printed keeps the meshes that are part of the model itself.
func (m *Model) printed(leaves []leaf) []leaf {
	var kept []leaf
	for _, l := range leaves {
		if m.Objects[l.object].Type == "model" {
			kept = append(kept, l)
		}
	}
	return kept
}

func (m *Model) collect(s *Solid, o *Object) {
	for _, use := range o.Uses {
		key := Key{o.Part, use.Group}
		for _, g := range m.Materials {
			if g.Key == key && int(use.Index) < len(g.Materials) && !slices.Contains(s.Materials, g.Materials[use.Index]) {
				s.Materials = append(s.Materials, g.Materials[use.Index])
			}
		}
		for _, g := range m.Colors {
			if g.Key == key && int(use.Index) < len(g.Colors) && !slices.Contains(s.Colors, g.Colors[use.Index]) {
				s.Colors = append(s.Colors, g.Colors[use.Index])
			}
		}
	}
}

func (m *Model) merge(leaves []leaf) *mesh.Mesh {
	if len(leaves) == 1 && leaves[0].place == Identity() {
		return m.Objects[leaves[0].object].Mesh
	}
	vertices, triangles := 0, 0
	for _, l := range leaves {
		vertices += len(m.Objects[l.object].Mesh.Vertices)
		triangles += len(m.Objects[l.object].Mesh.Triangles)
	}
	out := &mesh.Mesh{
		Vertices:  make([][3]float32, 0, vertices),
		Triangles: make([][3]uint32, 0, triangles),
	}
	for _, l := range leaves {
		part := m.Objects[l.object].Mesh
		base := uint32(len(out.Vertices))
		for _, v := range part.Vertices {
			out.Vertices = append(out.Vertices, l.place.Apply(v))
		}
		// A mirroring transform must not turn the solid inside out (3.3).
		mirrored := l.place.Determinant() < 0
		for _, t := range part.Triangles {
			t = [3]uint32{t[0] + base, t[1] + base, t[2] + base}
			if mirrored {
				t[1], t[2] = t[2], t[1]
			}
			out.Triangles = append(out.Triangles, t)
		}
	}
	return out
}
