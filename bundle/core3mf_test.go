package bundle_test

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// The core specification 1.4.0 of the 3MF Consortium (2025) comes with an XML schema, which no package registry holds. Its
// rules are written here anew, by chapter, for a reader that shares nothing with ours, and with them those rules of the
// text that no schema can hold.
const (
	core3MF      = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
	relations3MF = "http://schemas.openxmlformats.org/package/2006/relationships"
	model3MF     = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
	typeModel3MF = "application/vnd.ms-package.3dmanufacturing-3dmodel+xml"
	typeRels3MF  = "application/vnd.openxmlformats-package.relationships+xml"
)

// Simple types of the schema (appendix B.1): ST_Number, ST_Matrix3D, ST_ColorValue, ST_ResourceID, ST_ResourceIndex.
const number3MF = `[-+]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?`

var (
	isNumber = regexp.MustCompile(`^` + number3MF + `$`)
	isMatrix = regexp.MustCompile(`^` + number3MF + `(?: ` + number3MF + `){11}$`)
	isColour = regexp.MustCompile(`^#[0-9A-Fa-f]{6}(?:[0-9A-Fa-f]{2})?$`)
)

// node3MF is an element.
type node3MF struct {
	XMLName xml.Name
	Attrs   []xml.Attr `xml:",any,attr"`
	Nodes   []node3MF  `xml:",any"`
	Text    string     `xml:",chardata"`
}

func (n *node3MF) attr(name string) (string, bool) {
	for _, a := range n.Attrs {
		if a.Name.Space == "" && a.Name.Local == name {
			return a.Value, true
		}
	}
	return "", false
}

// judge3MF collects what is wrong with a package.
type judge3MF struct{ list []string }

func (j *judge3MF) say(rule, format string, args ...any) {
	j.list = append(j.list, rule+" "+fmt.Sprintf(format, args...))
}

// core3MFFaults is what is wrong with a package by the core specification, each with its chapter.
func core3MFFaults(data []byte) []string {
	j := &judge3MF{}
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return []string{"2.1 " + err.Error()}
	}
	parts := map[string][]byte{}
	for _, f := range r.File {
		low := strings.ToLower(f.Name)
		if _, twice := parts[low]; twice {
			j.say("2.1", "two parts are called %s but for capitals", f.Name)
		}
		if f.Method != zip.Store && f.Method != zip.Deflate {
			j.say("C", "%s is packed by method %d", f.Name, f.Method)
		}
		if slices.ContainsFunc(strings.Split(f.Name, "/"), func(s string) bool { return s == "" || strings.HasSuffix(s, ".") }) {
			j.say("2.2.3", "the name %q has an empty segment or one that ends in a dot", f.Name)
		}
		rc, err := f.Open()
		if err != nil {
			j.say("2.1", "%v", err)
			continue
		}
		if parts[low], err = io.ReadAll(rc); err != nil {
			j.say("2.1", "%v", err)
		}
	}
	root, ok := j.parse(parts, "_rels/.rels", relations3MF, "Relationships")
	if !ok {
		return j.list
	}
	var models []string
	for _, n := range root.Nodes {
		kind, _ := n.attr("Type")
		target, _ := n.attr("Target")
		mode, _ := n.attr("TargetMode")
		if mode == "External" {
			j.say("2.1.1", "the relationship to %s leads outside", target)
		}
		if _, have := parts[strings.ToLower(strings.TrimPrefix(target, "/"))]; !have {
			j.say("2.1.1", "the relationship to %s leads nowhere", target)
		}
		if kind == model3MF {
			models = append(models, strings.TrimPrefix(target, "/"))
		}
	}
	if len(models) != 1 {
		j.say("2.1.1", "%d relationships to a model, expected 1", len(models))
		return j.list
	}
	j.contentTypes(parts, models[0])
	if model, ok := j.parse(parts, models[0], core3MF, "model"); ok {
		j.model(&model)
	}
	return j.list
}

// parse reads one part as XML with the rules of 2.3: UTF-8, no document type, no xml:space.
func (j *judge3MF) parse(parts map[string][]byte, name, space, local string) (root node3MF, ok bool) {
	data, ok := parts[strings.ToLower(name)]
	if !ok {
		j.say("2.1.1", "there is no %s", name)
		return node3MF{}, false
	}
	before := len(j.list)
	for d := xml.NewDecoder(bytes.NewReader(data)); ; {
		t, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			j.say("2.3", "%s: %v", name, err)
			return node3MF{}, false
		}
		switch t := t.(type) {
		case xml.Directive:
			j.say("2.3.2", "%s has a document type", name)
		case xml.ProcInst:
			if t.Target == "xml" && !bytes.Contains(bytes.ToUpper(t.Inst), []byte(`ENCODING="UTF-8"`)) {
				j.say("2.3.2", "%s is not in UTF-8", name)
			}
		case xml.StartElement:
			for _, a := range t.Attr {
				if a.Name.Space == "http://www.w3.org/XML/1998/namespace" && a.Name.Local == "space" {
					j.say("2.3.4", "%s has xml:space", name)
				}
			}
		}
	}
	if err := xml.Unmarshal(data, &root); err != nil {
		j.say("2.3", "%s: %v", name, err)
		return node3MF{}, false
	}
	if root.XMLName.Space != space || root.XMLName.Local != local {
		j.say("2.3", "%s begins with %s of %q", name, root.XMLName.Local, root.XMLName.Space)
	}
	return root, len(j.list) == before
}

func (j *judge3MF) contentTypes(parts map[string][]byte, model string) {
	root, ok := j.parse(parts, "[Content_Types].xml", "http://schemas.openxmlformats.org/package/2006/content-types", "Types")
	if !ok {
		return
	}
	types := map[string]string{}
	for _, n := range root.Nodes {
		ext, _ := n.attr("Extension")
		part, _ := n.attr("PartName")
		kind, _ := n.attr("ContentType")
		types[strings.ToLower(ext+part)] = kind
	}
	if types["rels"] != typeRels3MF {
		j.say("2.1", "relationships are declared as %q", types["rels"])
	}
	if got := types[strings.TrimPrefix(path.Ext(model), ".")]; got != typeModel3MF && types["/"+strings.ToLower(model)] != typeModel3MF {
		j.say("2.1", "the model is declared as %q", got)
	}
}

// shape holds an element to its attributes and children: the names that may stand there, and those that must.
func (j *judge3MF) shape(rule string, n *node3MF, required, optional string, children ...string) {
	for _, want := range strings.Fields(required) {
		if _, ok := n.attr(want); !ok {
			j.say(rule, "%s lacks %s", n.XMLName.Local, want)
		}
	}
	for _, a := range n.Attrs {
		foreign := a.Name.Space != "" || a.Name.Local == "xmlns"
		if !foreign && !slices.Contains(strings.Fields(required+" "+optional), a.Name.Local) {
			j.say(rule, "%s has %s", n.XMLName.Local, a.Name.Local)
		}
	}
	for _, c := range n.Nodes {
		if c.XMLName.Space == core3MF && !slices.Contains(children, c.XMLName.Local) {
			j.say(rule, "%s holds %s", n.XMLName.Local, c.XMLName.Local)
		}
	}
}

// thing3MF is a resource that others may name.
type thing3MF struct {
	kind  string // of an object; "" for materials
	count int    // of materials
}

func (j *judge3MF) model(m *node3MF) {
	j.shape("3.4", m, "", "unit requiredextensions recommendedextensions", "metadata", "resources", "build")
	if unit, ok := m.attr("unit"); ok && !slices.Contains([]string{"micron", "millimeter", "centimeter", "inch", "foot", "meter"}, unit) {
		j.say("3.4", "the unit is %q", unit)
	}
	var order []string
	seen := map[string]bool{}
	things := map[int]thing3MF{}
	for i := range m.Nodes {
		n := &m.Nodes[i]
		if name := n.XMLName.Local; len(order) == 0 || name != "metadata" || order[len(order)-1] != name {
			order = append(order, name)
		}
		switch n.XMLName.Local {
		case "metadata":
			j.shape("3.4.1", n, "name", "preserve type")
			name, _ := n.attr("name")
			if !slices.Contains([]string{"Title", "Designer", "Description", "Copyright", "LicenseTerms", "Rating", "CreationDate", "ModificationDate", "Application"}, name) && !strings.Contains(name, ":") {
				j.say("3.4.1", "the metadata %q is none of the standard's", name)
			}
			if seen[name] {
				j.say("3.4.1", "the metadata %q stands there twice", name)
			}
			seen[name] = true
		case "resources":
			j.resources(n, things)
		case "build":
			j.build(n, things)
		}
	}
	if got := strings.TrimPrefix(strings.Join(order, " "), "metadata "); got != "resources build" {
		j.say("3.4", "the model holds %s, expected metadata, then resources, then build", strings.Join(order, " "))
	}
}

func (j *judge3MF) resources(n *node3MF, things map[int]thing3MF) {
	j.shape("3.4.2", n, "", "", "basematerials", "object")
	for i := range n.Nodes {
		x := &n.Nodes[i]
		text, _ := x.attr("id")
		id, err := strconv.ParseUint(text, 10, 31)
		if err != nil || id == 0 {
			j.say("3.4.2", "the resource id %q is no positive number below 2^31", text)
		}
		if _, twice := things[int(id)]; twice {
			j.say("3.4.2", "the id %d stands there twice", id)
		}
		switch x.XMLName.Local {
		case "basematerials":
			j.shape("5.1", x, "id", "", "base")
			for k := range x.Nodes {
				j.shape("5.1", &x.Nodes[k], "name displaycolor", "")
				if c, _ := x.Nodes[k].attr("displaycolor"); !isColour.MatchString(c) {
					j.say("5.1", "the colour %q", c)
				}
			}
			if len(x.Nodes) == 0 {
				j.say("5.1", "a group of no materials")
			}
			things[int(id)] = thing3MF{count: len(x.Nodes)}
		case "object":
			things[int(id)] = thing3MF{kind: j.object(x, things)}
		}
	}
}

func (j *judge3MF) object(x *node3MF, things map[int]thing3MF) string {
	j.shape("4", x, "id", "type thumbnail partnumber name pid pindex", "metadatagroup", "mesh", "components")
	kind, ok := x.attr("type")
	if !ok {
		kind = "model"
	}
	if !slices.Contains([]string{"model", "solidsupport", "support", "surface", "other"}, kind) {
		j.say("4", "an object of type %q", kind)
	}
	pid, hasPid := x.attr("pid")
	pindex, hasIndex := x.attr("pindex")
	if hasIndex && !hasPid {
		j.say("4.1", "pindex without pid")
	}
	if hasPid {
		id, _ := strconv.Atoi(pid)
		group, known := things[id]
		k, err := strconv.Atoi(pindex)
		if !known || group.count == 0 {
			j.say("4.1", "pid %q names no materials that stand before it", pid)
		} else if err != nil || k < 0 || k >= group.count {
			j.say("4.1", "pindex %q of %d materials", pindex, group.count)
		}
	}
	if len(x.Nodes) != 1 {
		j.say("4", "an object of %d elements, expected a mesh or components", len(x.Nodes))
		return kind
	}
	if x.Nodes[0].XMLName.Local == "mesh" {
		j.mesh(&x.Nodes[0], kind)
	}
	return kind
}

func (j *judge3MF) mesh(m *node3MF, kind string) {
	j.shape("4.1", m, "", "", "vertices", "triangles")
	if len(m.Nodes) != 2 || m.Nodes[0].XMLName.Local != "vertices" || m.Nodes[1].XMLName.Local != "triangles" {
		j.say("4.1", "a mesh is vertices, then triangles")
		return
	}
	var at [][3]float64
	for i := range m.Nodes[0].Nodes {
		v := &m.Nodes[0].Nodes[i]
		j.shape("4.1.2", v, "x y z", "")
		var p [3]float64
		for c, name := range [3]string{"x", "y", "z"} {
			text, _ := v.attr(name)
			if !isNumber.MatchString(text) {
				j.say("4.1.2", "the coordinate %q", text)
			}
			p[c], _ = strconv.ParseFloat(text, 64)
		}
		at = append(at, p)
	}
	if len(at) < 3 {
		j.say("4.1.2", "%d vertices, expected 3 or more", len(at))
	}
	solid := kind == "model" || kind == "solidsupport"
	triangles := m.Nodes[1].Nodes
	if n := len(triangles); n == 0 || solid && n < 4 {
		j.say("4.1.4", "%d triangles", n)
	}
	edges := map[[2]int]int{}
	volume := 0.0
	for i := range triangles {
		t := &triangles[i]
		j.shape("4.1.4", t, "v1 v2 v3", "p1 p2 p3 pid")
		var v [3]int
		good := true
		for c, name := range [3]string{"v1", "v2", "v3"} {
			text, _ := t.attr(name)
			n, err := strconv.ParseUint(text, 10, 31)
			if err != nil || int(n) >= len(at) {
				j.say("4.1.4", "%s %q of %d vertices", name, text, len(at))
				good = false
			}
			v[c] = int(n)
		}
		if v[0] == v[1] || v[1] == v[2] || v[2] == v[0] {
			j.say("4.1.4", "triangle %d has one vertex twice", i)
		}
		if !good {
			return
		}
		for c := range 3 {
			edges[[2]int{v[c], v[(c+1)%3]}]++
		}
		a, b, c := at[v[0]], at[v[1]], at[v[2]]
		volume += (a[0]*(b[1]*c[2]-b[2]*c[1]) + a[1]*(b[2]*c[0]-b[0]*c[2]) + a[2]*(b[0]*c[1]-b[1]*c[0])) / 6
	}
	if !solid {
		return
	}
	for e, n := range edges {
		if n != 1 || edges[[2]int{e[1], e[0]}] != 1 {
			j.say("4.1", "the edge from %d to %d is gone along %d times, and %d times back: no closed surface of one orientation", e[0], e[1], n, edges[[2]int{e[1], e[0]}])
			return
		}
	}
	if volume <= 0 {
		j.say("4.1", "inside out: the volume is %v", volume)
	}
}

func (j *judge3MF) build(n *node3MF, things map[int]thing3MF) {
	j.shape("3.4.3", n, "", "", "item")
	for i := range n.Nodes {
		x := &n.Nodes[i]
		j.shape("3.4.3.1", x, "objectid", "transform partnumber", "metadatagroup")
		text, _ := x.attr("objectid")
		id, _ := strconv.Atoi(text)
		if o, ok := things[id]; !ok || o.kind == "" || o.kind == "other" {
			j.say("3.4.3.1", "the item names %q, which is no object to build", text)
		}
		t, ok := x.attr("transform")
		if !ok {
			continue
		}
		if !isMatrix.MatchString(t) {
			j.say("3.3", "the transform %q", t)
			continue
		}
		var m [12]float64
		for k, s := range strings.Fields(t) {
			m[k], _ = strconv.ParseFloat(s, 64)
		}
		if det := m[0]*(m[4]*m[8]-m[5]*m[7]) - m[1]*(m[3]*m[8]-m[5]*m[6]) + m[2]*(m[3]*m[7]-m[4]*m[6]); det == 0 {
			j.say("3.3", "the transform %q is singular", t)
		}
	}
}

// TestModelsByTheCore: every 3MF of every bundle of the season keeps the rules of the core specification; files that break
// one each are found out.
func TestModelsByTheCore(t *testing.T) {
	var good []byte
	seen := 0
	for name, data := range season(t) {
		for file, body := range files(t, data) {
			if !strings.HasSuffix(file, ".3mf") {
				continue
			}
			seen++
			for i, f := range core3MFFaults(body) {
				if i == 5 {
					break
				}
				t.Errorf("%s: %s: %s", name, file, f)
			}
			if strings.HasSuffix(file, "assembly.3mf") && (good == nil || len(body) < len(good)) {
				good = body
			}
		}
	}
	if seen < 10 || good == nil {
		t.Fatalf("only %d models seen", seen)
	}
	const model, rels, types = "3D/3dmodel.model", "_rels/.rels", "[Content_Types].xml"
	for _, c := range []struct{ part, old, with, rule string }{
		{model, `unit="millimeter"`, `unit="furlong"`, "3.4 "},
		{model, `<model `, `<model colour="red" `, "3.4 "},
		{model, `<model `, `<model xml:space="preserve" `, "2.3.4 "},
		{model, core3MF, core3MF + "/other", "2.3 "},
		{model, `encoding="UTF-8"`, `encoding="ISO-8859-1"`, "2.3"},
		{model, `?>` + "\n", `?>` + "\n<!DOCTYPE model>\n", "2.3.2 "},
		{model, `<metadata name="Title">`, `<metadata name="Headline">`, "3.4.1 "},
		{model, `<metadata name="Designer">`, `<metadata name="Title">`, "3.4.1 "},
		{model, `<resources>`, `<resources/><resources>`, "3.4 "},
		{model, `</build>`, `</build><build/>`, "3.4 "},
		{model, `<object id="2"`, `<object id="1"`, "3.4.2 "},
		{model, `<object id="2"`, `<object id="0"`, "3.4.2 "},
		{model, `<object id="2" type="model"`, `<object id="2" type="statue"`, "4 "},
		{model, `<object id="2"`, `<object id="2" weight="3"`, "4 "},
		{model, `pid="1" pindex="0"`, `pid="1" pindex="9"`, "4.1 "},
		{model, `pid="1" pindex="0"`, `pid="7" pindex="0"`, "4.1 "},
		{model, `displaycolor="#`, `displaycolor="`, "5.1 "},
		{model, `<vertex x="`, `<vertex x="0x`, "4.1.2 "},
		{model, `<vertex x="`, `<vertex w="1" x="`, "4.1.2 "},
		{model, `<triangle v1="`, `<triangle v1="9999`, "4.1.4 "},
		{model, `<triangle v1="`, `<triangle v1="0" v2="0" v3="0"/><triangle v1="`, "4.1.4 "},
		{model, "<triangles>\n", "<triangles>\n" + `<triangle v1="0" v2="1" v3="2"/>`, "4.1 "},
		{model, `<vertices>`, `<triangles/><vertices>`, "4.1 "},
		{model, `<item objectid="2"`, `<item objectid="1"`, "3.4.3.1 "},
		{model, `<item objectid="2"`, `<item objectid="2" transform="1 0 0 0 1 0 0 0 1 0 0"`, "3.3 "},
		{model, `<item objectid="2"`, `<item objectid="2" transform="0 0 0 0 1 0 0 0 1 0 0 0"`, "3.3 "},
		{rels, model3MF, model3MF + "s", "2.1.1 "},
		{rels, `/3D/3dmodel.model`, `/3D/other.model`, "2.1.1 "},
		{types, typeModel3MF, "text/plain", "2.1 "},
	} {
		bad, ok := altered(t, good, c.part, c.old, c.with)
		if !ok {
			t.Errorf("%s does not hold %q", c.part, c.old)
			continue
		}
		if got := core3MFFaults(bad); !slices.ContainsFunc(got, func(f string) bool { return strings.HasPrefix(f, c.rule) }) {
			t.Errorf("%q for %q passes rule %s: %.3q", c.with, c.old, c.rule, got)
		}
	}
	if got := core3MFFaults(good[:len(good)/2]); len(got) == 0 {
		t.Error("half a file passes")
	}
}

// altered is a package with the first of a text in a part replaced.
func altered(t *testing.T, data []byte, part, old, with string) ([]byte, bool) {
	t.Helper()
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	found := false
	for _, f := range r.File {
		rc, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(rc)
		if err != nil {
			t.Fatal(err)
		}
		if f.Name == part {
			found = bytes.Contains(body, []byte(old))
			body = bytes.Replace(body, []byte(old), []byte(with), 1)
		}
		to, err := w.Create(f.Name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := to.Write(body); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes(), found
}
