package threemf

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
)

// modelPart reads one model part into the decoder's model.
type modelPart struct {
	*decoder
	*scanner
	key    string
	root   bool
	scale  float64 // millimetres for one unit
	budget partBudget
	ids    map[uint32]int // resources read so far -> number of properties, -1 unknown
	later  []forward
}

// partBudget bounds what is allocated ahead of reading.
type partBudget struct{ packed, unpacked int64 }

// forward is a reference to an object that is not defined yet.
type forward struct {
	from, to uint32
	at       int64
}

// each calls do for every child element of the present one and returns behind its end. do must leave
// the scanner behind the child's end.
func (p *modelPart) each(do func() error) error {
	for {
		k, err := p.next()
		if err != nil {
			return err
		}
		switch k {
		case atStart:
			if err := do(); err != nil {
				return err
			}
		case atClose:
			return nil
		}
	}
}

// unknown passes an element that the standard does not have here.
func (p *modelPart) unknown(in string) error {
	if p.space == spaceCore {
		p.warn("%q: <%s> is not expected in <%s> and was left out", p.part, clip(p.local), in)
	}
	return p.skip()
}

func (p *modelPart) read() error {
	k, err := p.next()
	if err != nil {
		return err
	}
	if k != atStart || !p.is(spaceCore, "model") {
		return p.fail("the root element <%s> is not <model> of 3MF core (%s)", clip(p.local), uriCore)
	}
	if err := p.rootAttributes(); err != nil {
		return err
	}
	resources, build := false, false
	err = p.each(func() error {
		switch {
		case p.is(spaceCore, "metadata"):
			return p.readMetadata("model")
		case p.is(spaceCore, "resources"):
			if resources || build {
				return p.fail("<resources> must stand once, before <build>")
			}
			resources = true
			return p.each(p.readResource)
		case p.is(spaceCore, "build"):
			if build || !resources {
				return p.fail("<build> must stand once, after <resources>")
			}
			build = true
			return p.each(p.readItem)
		}
		return p.unknown("model")
	})
	if err != nil {
		return err
	}
	if !resources || p.root && !build {
		return p.fail("<resources> and <build> are required in <model>")
	}
	// Behind the root only white space may follow; reading to the end also checks length and CRC.
	for k := atStart; k != atEnd; {
		if k, err = p.next(); err != nil {
			return err
		}
	}
	return p.checkForward()
}

func (p *modelPart) rootAttributes() error {
	unit, ok, err := p.attr(spaceNone, "unit")
	if err != nil {
		return err
	}
	if !ok {
		unit = "millimeter"
	}
	if p.scale = unitScale(unit); p.scale == 0 {
		return p.fail("unknown unit %q: it must be micron, millimeter, centimeter, inch, foot or meter", clip([]byte(unit)))
	}
	if p.root {
		p.model.Unit = unit
		if p.model.Language, _, err = p.attr(spaceXML, "lang"); err != nil {
			return err
		}
	} else if unit != p.model.Unit {
		p.warn("%q is in %s, the root model part in %s", p.part, unit, p.model.Unit)
	}
	required, _, err := p.attr(spaceNone, "requiredextensions")
	if err != nil {
		return err
	}
	for _, prefix := range strings.Fields(required) {
		uri, ok := p.uri(prefix)
		if !ok {
			return p.fail("the required extension %q has no namespace", clip([]byte(prefix)))
		}
		switch spaceOf(uri) {
		case spaceCore, spaceMaterial, spaceProduction:
		default:
			return p.fail("the file requires the extension %q (%s), which cannot be read: export it as plain 3MF core or binary STL", clip([]byte(prefix)), clip([]byte(uri)))
		}
	}
	recommended, _, err := p.attr(spaceNone, "recommendedextensions")
	if err != nil {
		return err
	}
	for _, prefix := range strings.Fields(recommended) {
		uri, _ := p.uri(prefix)
		switch spaceOf(uri) {
		case spaceCore, spaceMaterial, spaceProduction:
		default:
			p.warn("the recommended extension %q (%s) was left out", clip([]byte(prefix)), clip([]byte(uri)))
		}
	}
	return nil
}

// metadataNames are those that may stand without a prefix (3.4.1).
var metadataNames = []string{"Title", "Designer", "Description", "Copyright", "LicenseTerms", "Rating", "CreationDate", "ModificationDate", "Application"}

func (p *modelPart) readMetadata(where string) error {
	name, ok, err := p.attr(spaceNone, "name")
	if err != nil {
		return err
	}
	if !ok || name == "" {
		return p.fail("metadata without a name")
	}
	if len(p.model.Metadata) >= maxMetadata {
		return p.fail("more than %d metadata entries", maxMetadata)
	}
	if !p.root {
		where += " of " + p.part
	}
	for _, m := range p.model.Metadata {
		if m.Where == where && m.Name == name {
			return p.fail("the metadata %q stands twice", clip([]byte(name)))
		}
	}
	if !strings.Contains(name, ":") && !slices.Contains(metadataNames, name) {
		p.warn("the metadata %q is not one of the standard and has no prefix", clip([]byte(name)))
	}
	value, err := p.readText()
	if err != nil {
		return err
	}
	p.model.Metadata = append(p.model.Metadata, Metadata{where, name, value})
	return nil
}

// readText gathers the text of the present element up to its end.
func (p *modelPart) readText() (string, error) {
	var out strings.Builder
	for depth := len(p.open); ; {
		k, err := p.next()
		if err != nil {
			return "", err
		}
		switch {
		case k == atText && p.isCDATA:
			out.Write(bytes.ToValidUTF8(p.text, []byte("?")))
		case k == atText:
			text, err := p.unescape(p.text)
			if err != nil {
				return "", err
			}
			out.WriteString(text)
		case k == atClose && len(p.open) < depth:
			return out.String(), nil
		}
		if out.Len() > maxToken {
			return "", p.fail("text longer than %d bytes", maxToken)
		}
	}
}

// readMetadataGroup reads the metadata of an object or an item.
func (p *modelPart) readMetadataGroup(where string) error {
	return p.each(func() error {
		if p.is(spaceCore, "metadata") {
			return p.readMetadata(where)
		}
		return p.unknown("metadatagroup")
	})
}

// whole returns a whole-number attribute without a prefix.
func (p *modelPart) whole(name string) (uint32, bool, error) {
	text, ok, err := p.attr(spaceNone, name)
	if err != nil || !ok {
		return 0, false, err
	}
	n, err := wholeNumber([]byte(text))
	if err != nil {
		return 0, false, p.fail("%s=%q: %w", name, clip([]byte(text)), err)
	}
	return n, true, nil
}

// reference reads objectid, a production path, and transform of the present item or component.
func (p *modelPart) reference() (Key, Transform, error) {
	id, ok, err := p.whole("objectid")
	if err != nil {
		return Key{}, Transform{}, err
	}
	if !ok {
		return Key{}, Transform{}, p.fail("<%s> without objectid", clip(p.local))
	}
	key := Key{p.key, id}
	if target, ok, err := p.attr(spaceProduction, "path"); err != nil {
		return key, Transform{}, err
	} else if ok {
		if !strings.HasPrefix(target, "/") {
			return key, Transform{}, p.fail("the path %q must begin with a slash", clip([]byte(target)))
		}
		key.Part = partKey(target)
		if p.pkg.files[key.Part] == nil {
			return key, Transform{}, p.fail("the model part %q is not in the package", clip([]byte(target)))
		}
		p.wanted(key.Part)
	}
	t := Identity()
	if text, ok, err := p.attr(spaceNone, "transform"); err != nil {
		return key, t, err
	} else if ok {
		if t, err = parseTransform(text, p.scale); err != nil {
			return key, t, p.fail("%w", err)
		}
		if t.singular() {
			p.warn("%q: the transform of object %d flattens it", p.part, id)
		}
	}
	return key, t, nil
}

func (p *modelPart) readComponent(o *Object) error {
	if !p.is(spaceCore, "component") {
		return p.unknown("components")
	}
	key, t, err := p.reference()
	if err != nil {
		return err
	}
	if _, defined := p.objects[key]; !defined && key.Part == p.key {
		p.later = append(p.later, forward{o.ID, key.ID, p.base + int64(p.pos)})
	}
	o.Components = append(o.Components, Component{key, t})
	return p.skip()
}

func (p *modelPart) readItem() error {
	if !p.is(spaceCore, "item") {
		return p.unknown("build")
	}
	if !p.root {
		return p.skip() // only the root model part builds
	}
	key, t, err := p.reference()
	if err != nil {
		return err
	}
	item := Item{Object: key, Transform: t}
	if item.PartNumber, _, err = p.attr(spaceNone, "partnumber"); err != nil {
		return err
	}
	if _, defined := p.objects[key]; !defined && key.Part == p.key {
		return p.fail("the build names object %d, which is not in the file", key.ID)
	}
	p.model.Build = append(p.model.Build, item)
	where := fmt.Sprintf("item %d", len(p.model.Build))
	return p.each(func() error {
		if p.is(spaceCore, "metadatagroup") {
			return p.readMetadataGroup(where)
		}
		return p.unknown("item")
	})
}

// checkForward refuses components that name objects defined after them, or never: with them come
// the cycles (3.4.2: resources must be defined before they are used).
func (p *modelPart) checkForward() error {
	if len(p.later) == 0 {
		return nil
	}
	f := p.later[0]
	what := fmt.Sprintf("uses object %d before it is defined", f.to)
	if _, ok := p.objects[Key{p.key, f.to}]; !ok {
		what = fmt.Sprintf("has a component of object %d, which is not in the file", f.to)
	} else if f.from == f.to || p.reaches(f.to, f.from) {
		what = fmt.Sprintf("contains itself through object %d: a cycle of components", f.to)
	}
	return fmt.Errorf("%q, byte %d: object %d %s", p.part, f.at, f.from, what)
}

// reaches reports whether object to is found within object from of this part.
func (p *modelPart) reaches(from, to uint32) bool {
	seen := map[uint32]bool{from: true}
	for stack := []uint32{from}; len(stack) > 0; {
		id := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		if id == to {
			return true
		}
		i, ok := p.objects[Key{p.key, id}]
		if !ok {
			continue
		}
		for _, c := range p.model.Objects[i].Components {
			if c.Object.Part == p.key && !seen[c.Object.ID] {
				seen[c.Object.ID] = true
				stack = append(stack, c.Object.ID)
			}
		}
	}
	return false
}

// capacity is how many elements of so many bytes the rest of the part can hold, to allocate once. It
// trusts neither the sizes in the zip nor the first element: at most what a file of normal density
// holds.
func (p *modelPart) capacity(bytesEach, elementSize int64) int {
	rest := p.budget.unpacked - p.base - int64(p.pos)
	n := rest/max(bytesEach, 1) + 16
	return int(max(16, min(n, 3*p.budget.packed/elementSize+1024)))
}
