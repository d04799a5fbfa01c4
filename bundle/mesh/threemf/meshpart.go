package threemf

import (
	"bytes"

	"dropwright/bundle/mesh"
)

// property is a reference to one material or colour.
type property struct {
	group, index       uint32
	hasGroup, hasIndex bool
}

// checkProperty refuses a group that is not defined and an index outside it.
func (p *modelPart) checkProperty(group, index uint32, present bool) error {
	if !present {
		return nil
	}
	n, ok := p.ids[group]
	if !ok {
		return p.fail("pid=%d names no resource defined before", group)
	}
	if n >= 0 && int64(index) >= int64(n) {
		return p.fail("property %d of resource %d, which has %d", index, group, n)
	}
	return nil
}

func (p *modelPart) readMesh(id uint32, own property, uses map[Use]int) (*mesh.Mesh, error) {
	m := &mesh.Mesh{}
	vertices, triangles := false, false
	err := p.each(func() error {
		switch {
		case p.is(spaceCore, "vertices"):
			if vertices {
				return p.fail("object %d has two lists of vertices", id)
			}
			vertices = true
			return p.readVertices(m)
		case p.is(spaceCore, "triangles"):
			if !vertices || triangles {
				return p.fail("object %d must have one list of vertices, then one list of triangles", id)
			}
			triangles = true
			return p.readTriangles(m, own, uses)
		}
		return p.unknown("mesh")
	})
	if err != nil {
		return nil, err
	}
	if !vertices || !triangles {
		return nil, p.fail("object %d has a mesh without vertices or triangles", id)
	}
	return m, nil
}

// strayText refuses text between elements that hold numbers only.
func (p *modelPart) strayText(k kind) error {
	if k == atText && len(bytes.TrimLeft(p.text, " \t\r\n")) > 0 {
		return p.fail("unexpected text %q", clip(p.text))
	}
	return nil
}

func (p *modelPart) readVertices(m *mesh.Mesh) error {
	fast := p.plain()
	var v [3]float32
	for {
		if fast && !p.closing {
			b := p.ahead()
			i := 0
			for {
				n := fastVertex(b[i:], p.scale, &v)
				if n == 0 {
					break
				}
				if m.Vertices == nil {
					// Two triangles a vertex, each about as long as the vertex.
					m.Vertices = make([][3]float32, 0, p.capacity(3*int64(n), 12))
				}
				i += n
				m.Vertices = append(m.Vertices, v)
			}
			p.pos += i
			if i > 0 && len(b)-i < room {
				continue
			}
		}
		k, err := p.next()
		if err != nil {
			return err
		}
		switch {
		case k == atClose:
			return nil
		case k == atText:
			if err := p.strayText(k); err != nil {
				return err
			}
		case !p.is(spaceCore, "vertex"):
			if err := p.unknown("vertices"); err != nil {
				return err
			}
		default:
			if err := p.slowVertex(&v); err != nil {
				return err
			}
			m.Vertices = append(m.Vertices, v)
		}
		if len(m.Vertices) > maxID {
			return p.fail("more than %d vertices", maxID)
		}
	}
}

func (p *modelPart) slowVertex(v *[3]float32) error {
	for i, name := range [3]string{"x", "y", "z"} {
		text, ok, err := p.attr(spaceNone, name)
		if err != nil {
			return err
		}
		if !ok {
			return p.fail("a vertex without %s", name)
		}
		if v[i], err = coordinate([]byte(text), p.scale); err != nil {
			return p.fail("vertex: %s=%q: %w", name, clip([]byte(text)), err)
		}
	}
	return p.skip()
}

// tally counts triangles by property, a run of equal ones at a time.
type tally struct {
	uses    map[Use]int
	present Use
	run     int
}

func (t *tally) add(u Use) {
	if u != t.present {
		t.flush()
		t.present = u
	}
	t.run++
}

func (t *tally) flush() {
	if t.run > 0 {
		t.uses[t.present] += t.run
		t.run = 0
	}
}

func (p *modelPart) readTriangles(m *mesh.Mesh, own property, uses map[Use]int) error {
	fast := p.plain()
	count := tally{uses: uses}
	defer count.flush()
	var t triangle
	for {
		if fast && !p.closing {
			b := p.ahead()
			i := 0
			for {
				n := fastTriangle(b[i:], &t)
				if n == 0 {
					break
				}
				if m.Triangles == nil {
					m.Triangles = make([][3]uint32, 0, p.capacity(max(int64(n), 40), 12))
				}
				i += n
				if err := p.addTriangle(m, &t, own, &count); err != nil {
					return err
				}
			}
			p.pos += i
			if i > 0 && len(b)-i < room {
				continue
			}
		}
		k, err := p.next()
		if err != nil {
			return err
		}
		switch {
		case k == atClose:
			return nil
		case k == atText:
			if err := p.strayText(k); err != nil {
				return err
			}
		case !p.is(spaceCore, "triangle"):
			if err := p.unknown("triangles"); err != nil {
				return err
			}
		default:
			if err := p.slowTriangle(&t); err != nil {
				return err
			}
			if err := p.addTriangle(m, &t, own, &count); err != nil {
				return err
			}
		}
	}
}

var triangleAttributes = [attrCount]string{attrV1: "v1", attrV2: "v2", attrV3: "v3", attrP1: "p1", attrP2: "p2", attrP3: "p3", attrPID: "pid"}

func (p *modelPart) slowTriangle(t *triangle) error {
	t.seen = 0
	for i, name := range triangleAttributes {
		n, ok, err := p.whole(name)
		if err != nil {
			return err
		}
		if ok {
			t.value[i] = n
			t.seen |= 1 << i
		} else if i <= attrV3 {
			return p.fail("a triangle without %s", name)
		}
	}
	return p.skip()
}

// addTriangle checks indices and properties. A triangle that uses one vertex twice is kept: whether a
// mesh has degenerate triangles is for package mesh to say, with their places.
func (p *modelPart) addTriangle(m *mesh.Mesh, t *triangle, own property, count *tally) error {
	n := uint32(len(m.Vertices))
	v := [3]uint32{t.value[attrV1], t.value[attrV2], t.value[attrV3]}
	if v[0] >= n || v[1] >= n || v[2] >= n {
		return p.fail("triangle %d uses vertex %d, the object has %d", len(m.Triangles)+1, max(v[0], v[1], v[2]), n)
	}
	m.Triangles = append(m.Triangles, v)
	if len(m.Triangles) > maxID {
		return p.fail("more than %d triangles", maxID)
	}
	if t.seen>>attrP1 == 0 {
		if own.hasGroup {
			count.add(Use{Group: own.group, Index: own.index})
		}
		return nil
	}
	return p.addProperty(t, own, count)
}

// addProperty counts the property of a triangle's first corner (4.1.4): without p1 that of the object
// holds, without pid the group of the object.
func (p *modelPart) addProperty(t *triangle, own property, count *tally) error {
	has := func(attr int) bool { return t.seen>>attr&1 != 0 }
	group := own.group
	if has(attrPID) {
		group = t.value[attrPID]
	} else if !own.hasGroup {
		return p.fail("a triangle has p1 but neither it nor its object has pid")
	}
	if !own.hasGroup {
		p.warn("%q: triangles have properties but their object has none, which the standard asks for", p.part)
	}
	use := Use{Group: group, Index: t.value[attrP1]}
	if !has(attrP1) {
		use = Use{Group: own.group, Index: own.index}
		if !own.hasGroup {
			use = Use{Group: group}
		}
	}
	if use != count.present || count.run == 0 {
		if err := p.checkProperty(use.Group, use.Index, true); err != nil {
			return err
		}
	}
	for _, attr := range [2]int{attrP2, attrP3} {
		if has(attr) && t.value[attr] != use.Index {
			if err := p.checkProperty(group, t.value[attr], true); err != nil {
				return err
			}
		}
	}
	count.add(use)
	return nil
}
