package threemf

import (
	"cmp"
	"fmt"
	"slices"
)

// newID returns the id of the present resource; ids are unique over all kinds of resources (3.4.2).
func (p *modelPart) newID() (uint32, error) {
	id, ok, err := p.whole("id")
	if err != nil {
		return 0, err
	}
	if !ok || id == 0 {
		return 0, p.fail("<%s> needs an id above 0", clip(p.local))
	}
	if _, twice := p.ids[id]; twice {
		return 0, p.fail("two resources have the id %d", id)
	}
	return id, nil
}

func (p *modelPart) readResource() error {
	switch {
	case p.is(spaceCore, "object"):
		return p.readObject()
	case p.is(spaceCore, "basematerials"):
		return p.readMaterials()
	case p.is(spaceMaterial, "colorgroup"):
		return p.readColors()
	}
	// Textures, slice stacks …: only their ids count, which share one numbering with the rest.
	if _, ok, err := p.attr(spaceNone, "id"); err != nil || ok {
		if err != nil {
			return err
		}
		id, err := p.newID()
		if err != nil {
			return err
		}
		p.ids[id] = -1
	}
	return p.unknown("resources")
}

func (p *modelPart) readMaterials() error {
	id, err := p.newID()
	if err != nil {
		return err
	}
	group := MaterialGroup{Key: Key{p.key, id}}
	err = p.each(func() error {
		if !p.is(spaceCore, "base") {
			return p.unknown("basematerials")
		}
		name, ok, err := p.attr(spaceNone, "name")
		if err != nil {
			return err
		}
		text, hasColor, err := p.attr(spaceNone, "displaycolor")
		if err != nil {
			return err
		}
		if !ok || !hasColor {
			return p.fail("<base> needs name and displaycolor")
		}
		color, err := parseColor(text)
		if err != nil {
			return p.fail("%w", err)
		}
		group.Materials = append(group.Materials, Material{name, color})
		return p.skip()
	})
	if err != nil {
		return err
	}
	p.ids[id] = len(group.Materials)
	p.model.Materials = append(p.model.Materials, group)
	return nil
}

func (p *modelPart) readColors() error {
	id, err := p.newID()
	if err != nil {
		return err
	}
	group := ColorGroup{Key: Key{p.key, id}}
	err = p.each(func() error {
		if !p.is(spaceMaterial, "color") {
			return p.unknown("colorgroup")
		}
		text, _, err := p.attr(spaceNone, "color")
		if err != nil {
			return err
		}
		color, err := parseColor(text)
		if err != nil {
			return p.fail("%w", err)
		}
		group.Colors = append(group.Colors, color)
		return p.skip()
	})
	if err != nil {
		return err
	}
	p.ids[id] = len(group.Colors)
	p.model.Colors = append(p.model.Colors, group)
	return nil
}

// objectTypes are those of ST_ObjectType.
var objectTypes = []string{"model", "solidsupport", "support", "surface", "other"}

func (p *modelPart) readObject() error {
	id, err := p.newID()
	if err != nil {
		return err
	}
	o := Object{Key: Key{p.key, id}}
	if o.Name, _, err = p.attr(spaceNone, "name"); err != nil {
		return err
	}
	if o.PartNumber, _, err = p.attr(spaceNone, "partnumber"); err != nil {
		return err
	}
	var ok bool
	if o.Type, ok, err = p.attr(spaceNone, "type"); err != nil {
		return err
	} else if !ok {
		o.Type = "model"
	} else if !slices.Contains(objectTypes, o.Type) {
		return p.fail("object %d has the unknown type %q", id, clip([]byte(o.Type)))
	}
	var own property
	if own.group, own.hasGroup, err = p.whole("pid"); err != nil {
		return err
	}
	if own.index, own.hasIndex, err = p.whole("pindex"); err != nil {
		return err
	}
	if own.hasIndex && !own.hasGroup {
		return p.fail("object %d has pindex without pid", id)
	}
	if err := p.checkProperty(own.group, own.index, own.hasGroup); err != nil {
		return err
	}
	uses := make(map[Use]int)
	components := false
	err = p.each(func() error {
		switch {
		case p.is(spaceCore, "mesh") || p.is(spaceCore, "components"):
			if o.Mesh != nil || components {
				return p.fail("object %d must hold one mesh or one list of components", id)
			}
			if string(p.local) == "mesh" {
				var err error
				o.Mesh, err = p.readMesh(id, own, uses)
				return err
			}
			components = true
			return p.each(func() error { return p.readComponent(&o) })
		case p.is(spaceCore, "metadatagroup"):
			return p.readMetadataGroup(fmt.Sprintf("object %d", id))
		}
		return p.unknown("object")
	})
	if err != nil {
		return err
	}
	if o.Mesh == nil && len(o.Components) == 0 {
		return p.fail("object %d holds neither a mesh nor components", id)
	}
	if components && own.hasGroup {
		p.warn("object %d has components and a property of its own, which the standard does not allow", id)
	}
	for use, n := range uses {
		use.Triangles = n
		o.Uses = append(o.Uses, use)
	}
	slices.SortFunc(o.Uses, func(a, b Use) int {
		return cmp.Or(cmp.Compare(a.Group, b.Group), cmp.Compare(a.Index, b.Index))
	})
	p.ids[id] = -1
	p.objects[o.Key] = len(p.model.Objects)
	p.model.Objects = append(p.model.Objects, o)
	return nil
}
