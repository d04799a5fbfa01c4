package threemf

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"dropwright/bundle/mesh"
)

func TestCube(t *testing.T) {
	m := mustDecode(t, pack(t, simple(cubeObject(1), `<item objectid="1"/>`)))
	got := m.Mesh()
	if want := box(10, 10, 10); !reflect.DeepEqual(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if v := volume(got); v != 1000 {
		t.Errorf("volume %v, want 1000", v)
	}
	if m.Unit != "millimeter" || m.Language != "en-US" || len(m.Warnings) != 0 {
		t.Errorf("unit %q, language %q, warnings %q", m.Unit, m.Language, m.Warnings)
	}
}

// Units are those of ST_Unit (3.4); an inch is 25.4 mm and a foot 304.8 mm by definition.
func TestUnits(t *testing.T) {
	for unit, edge := range map[string]float32{"micron": 0.01, "millimeter": 10, "centimeter": 100, "inch": 254, "foot": 3048, "meter": 10000} {
		text := strings.Replace(simple(cubeObject(1), `<item objectid="1" transform="1 0 0 0 1 0 0 0 1 10 0 0"/>`), "millimeter", unit, 1)
		lo, hi := bounds(mustDecode(t, pack(t, text)).Mesh())
		if lo != [3]float32{edge, 0, 0} || hi != [3]float32{2 * edge, edge, edge} {
			t.Errorf("%s: box %v to %v, want an edge of %v moved by %v", unit, lo, hi, edge, edge)
		}
	}
	m := mustDecode(t, pack(t, strings.Replace(simple(cubeObject(1), `<item objectid="1"/>`), ` unit="millimeter"`, "", 1)))
	if _, hi := bounds(m.Mesh()); hi[0] != 10 || m.Unit != "millimeter" {
		t.Errorf("without unit: %v %q, want millimetres", hi, m.Unit)
	}
}

// A transform is a row-vector matrix, the translation last (3.3): turning x to y by 90 degrees about z
// is 0 1 0 / -1 0 0. The component is applied first, then the item.
func TestTransformOrder(t *testing.T) {
	resources := `<object id="1">` + meshXML(box(10, 20, 30)) + `</object>` +
		`<object id="2" name="pair"><components><component objectid="1" transform="1 0 0 0 1 0 0 0 1 5 0 0"/><component objectid="1"/></components></object>`
	m := mustDecode(t, pack(t, simple(resources, `<item objectid="2" transform="0 1 0 -1 0 0 0 0 1 100 0 0"/>`)))
	got := m.Mesh()
	// x 5..15 and 0..10 becomes y; y 0..20 becomes -x, then + 100.
	lo, hi := bounds(got)
	if lo != [3]float32{80, 0, 0} || hi != [3]float32{100, 15, 30} {
		t.Errorf("box %v to %v, want [80 0 0] to [100 15 30]", lo, hi)
	}
	if v := volume(got); !near(v, 12000, 1e-6) {
		t.Errorf("volume %v, want 2 * 6000", v)
	}
}

// A mirroring transform must not change the sign of the volume (3.3).
func TestMirrorRewinds(t *testing.T) {
	for _, transform := range []string{"-1 0 0 0 1 0 0 0 1 0 0 0", "0 1 0 1 0 0 0 0 1 0 0 0", "-1 0 0 0 -1 0 0 0 -1 0 0 0"} {
		m := mustDecode(t, pack(t, simple(cubeObject(1), `<item objectid="1" transform="`+transform+`"/>`)))
		if v := volume(m.Mesh()); v != 1000 {
			t.Errorf("%s: volume %v, want 1000", transform, v)
		}
	}
	// Mirrored twice, by component and by item, is not mirrored.
	resources := cubeObject(1) + `<object id="2"><components><component objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/></components></object>`
	m := mustDecode(t, pack(t, simple(resources, `<item objectid="2" transform="1 0 0 0 -1 0 0 0 1 0 0 0"/>`)))
	if v := volume(m.Mesh()); v != 1000 {
		t.Errorf("mirrored twice: volume %v, want 1000", v)
	}
}

func TestItems(t *testing.T) {
	resources := `<basematerials id="1"><base name="clay" displaycolor="#8A5A44"/><base name="A &amp; B" displaycolor="#e3cf8a80"/></basematerials>` +
		`<m:colorgroup id="2"><m:color color="#FF0000"/><m:color color="#00FF00FF"/></m:colorgroup>` +
		`<object id="3" name="case &lt;1&gt;" partnumber="P-1" pid="1" pindex="1">` + meshXML(box(1, 1, 1)) + `</object>` +
		`<object id="4" name="lid" pid="1" pindex="0">` + strings.Replace(meshXML(box(2, 2, 2)), `v3="1"/>`, `v3="1" pid="2" p1="1"/>`, 1) + `</object>` +
		`<object id="5" name="prop" type="support">` + meshXML(box(3, 3, 3)) + `</object>`
	m := mustDecode(t, pack(t, simple(resources, `<item objectid="3" partnumber="P-2"/><item objectid="4" transform="1 0 0 0 1 0 0 0 1 10 0 0"/><item objectid="3"/><item objectid="5"/>`)))
	items := m.Items()
	if len(items) != 4 {
		t.Fatalf("%d items, want 4", len(items))
	}
	type row struct {
		Name, PartNumber, Type string
		Materials              []Material
		Colors                 []Color
		volume                 float64
	}
	clay, ab := Material{"clay", Color{0x8a, 0x5a, 0x44, 255}}, Material{"A & B", Color{0xe3, 0xcf, 0x8a, 0x80}}
	want := []row{
		{"case <1>", "P-2", "model", []Material{ab}, nil, 1},
		{"lid", "", "model", []Material{clay}, []Color{{0, 255, 0, 255}}, 8},
		{"case <1>", "P-1", "model", []Material{ab}, nil, 1},
		{"prop", "", "support", nil, nil, 27},
	}
	for i, s := range items {
		if got := (row{s.Name, s.PartNumber, s.Type, s.Materials, s.Colors, volume(s.Mesh)}); !reflect.DeepEqual(got, want[i]) {
			t.Errorf("item %d: got %+v, want %+v", i+1, got, want[i])
		}
	}
	if want := []Use{{1, 0, 11}, {2, 1, 1}}; !reflect.DeepEqual(m.Objects[1].Uses, want) {
		t.Errorf("uses %v, want %v", m.Objects[1].Uses, want)
	}
	if v := volume(m.Mesh()); !near(v, 10, 1e-9) {
		t.Errorf("volume of the model %v, want 10: the support does not count", v)
	}
	if got := clay.Color.String() + ab.Color.String(); got != "#8A5A44#E3CF8A80" {
		t.Errorf("colours print as %s", got)
	}
}

// The same cube in every dress that XML allows reads the same.
func TestFormsOfXML(t *testing.T) {
	plain := simple(cubeObject(1), `<item objectid="1"/>`)
	want := mustDecode(t, pack(t, plain)).Mesh()
	prefixed := strings.NewReplacer("<model", "<c:model", "</model", "</c:model", "xmlns=", "xmlns:c=", "<resources", "<c:resources", "</resources", "</c:resources",
		"<build", "<c:build", "</build", "</c:build", "<item", "<c:item", "<object", "<c:object", "</object", "</c:object", "<mesh", "<c:mesh", "</mesh", "</c:mesh",
		"<vert", "<c:vert", "</vert", "</c:vert", "<tri", "<c:tri", "</tri", "</c:tri").Replace(plain)
	forms := map[string]string{
		"prefix":                    prefixed,
		"single quotes":             strings.ReplaceAll(plain, `"`, `'`),
		"byte order mark":           "\xef\xbb\xbf" + plain,
		"no declaration":            plain[strings.Index(plain, "\n")+1:],
		"exponents":                 strings.NewReplacer(`"10"`, `"+1.0e+1"`, `x="0"`, `x="-0e5"`).Replace(plain),
		"long numbers":              strings.ReplaceAll(plain, `x="10"`, `x="10.00000000000000000000000000"`),
		"numbers begin with dot":    strings.ReplaceAll(plain, `x="0"`, `x=".0"`),
		"spaces in numbers":         strings.ReplaceAll(plain, `x="10"`, `x=" 10 "`),
		"spaces in tags":            strings.NewReplacer(`"/>`, "\"\n\t/>", ` y=`, "\r\n   y = ", ` v2=`, "\t\tv2=").Replace(plain),
		"long tags":                 strings.NewReplacer(`" y=`, `"`+strings.Repeat(" ", 1000)+`y=`, `" v2=`, `"`+strings.Repeat("\n", 600)+`v2=`).Replace(plain),
		"end tags":                  strings.NewReplacer(`z="10"/>`, `z="10"></vertex>`, `v3="6"/>`, `v3="6"> </triangle >`).Replace(plain),
		"comments":                  strings.NewReplacer("<vertex", "<!-- <vertex x=\"1\"/> - > --><vertex", "<triangle v", "<!----><triangle v").Replace(plain),
		"instructions":              strings.NewReplacer("<vertex", "<?x <vertex ?><vertex", "<mesh>", "<?y?><mesh>").Replace(plain),
		"empty CDATA":               strings.NewReplacer("<vertex", "<![CDATA[ ]]><vertex", "<triangle v", "<![CDATA[]]><triangle v").Replace(plain),
		"entities":                  strings.NewReplacer(`"10"`, `"&#49;&#x30;"`).Replace(plain),
		"other order":               strings.NewReplacer(`<vertex x="10" y="0" z="0"/>`, `<vertex z="0" x="10" y="0"/>`, `v1="1" v2="2" v3="3"`, `v3="3" v1="1" v2="2"`).Replace(plain),
		"foreign attributes":        strings.NewReplacer("<vertex", `<vertex m:a="x > y"`, "<triangle v", `<triangle p:b='"' v`).Replace(plain),
		"foreign elements":          strings.NewReplacer("<vertices>", `<vertices><m:a><m:b x="1"/>text</m:a>`, "<mesh>", "<m:z/><mesh>").Replace(plain),
		"default namespace changed": strings.NewReplacer("<vertices>", `<vertices xmlns="urn:x" xmlns:c="`+uriCore+`"><vertex x="9" y="9" z="9"/>`, "</vertices>", "</vertices>").Replace(strings.NewReplacer("<vertex ", "<c:vertex ").Replace(plain)),
		"space around root":         "\n" + plain[strings.Index(plain, "\n")+1:] + "\n<!-- end --> <?x?>\r\n",
		"leading zeros":             strings.ReplaceAll(plain, `v1="1"`, `v1="0001"`),
		"triangles without space":   strings.ReplaceAll(plain, "/>", " />"),
		"core bound twice":          strings.ReplaceAll(plain, "<vertex ", `<vertex xmlns:q="`+uriCore+`" `),
	}
	// Vertices in the namespace of <vertices xmlns="urn:x"> would not be vertices: the element itself must stay core.
	forms["default namespace changed"] = strings.NewReplacer(`<vertices xmlns`, `<c:vertices xmlns`, "</vertices>", "</c:vertices>").Replace(forms["default namespace changed"])
	for name, text := range forms {
		t.Run(name, func(t *testing.T) {
			if text == plain {
				t.Fatal("the form does not differ from the plain one")
			}
			got := mustDecode(t, pack(t, text)).Mesh()
			if !reflect.DeepEqual(got, want) && !(name == "exponents" && reflect.DeepEqual(positive(got), want)) {
				t.Errorf("got %v, want %v", got, want)
			}
		})
	}
}

// positive turns -0 into 0.
func positive(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: slices.Clone(m.Vertices), Triangles: m.Triangles}
	for i := range out.Vertices {
		for c := range 3 {
			out.Vertices[i][c] += 0
		}
	}
	return out
}

func TestMetadata(t *testing.T) {
	text := strings.Replace(simple(strings.Replace(cubeObject(1), "<mesh>", `<metadatagroup><metadata name="m:Owner">C:\Users\anna</metadata></metadatagroup><mesh>`, 1),
		`<item objectid="1"><metadatagroup><metadata name="m:Tray">2</metadata></metadatagroup></item>`),
		"<resources>", `<metadata name="Title">Vent &amp; <![CDATA[<Minder>]]></metadata><metadata name="Application" type="xs:string" preserve="1">CAD 1.0</metadata><metadata name="Printer">10.0.0.7</metadata><!-- saved by anna --><resources>`, 1)
	m := mustDecode(t, pack(t, text))
	want := []Metadata{{"model", "Title", "Vent & <Minder>"}, {"model", "Application", "CAD 1.0"}, {"model", "Printer", "10.0.0.7"}, {"object 1", "m:Owner", `C:\Users\anna`}, {"item 1", "m:Tray", "2"}}
	if !reflect.DeepEqual(m.Metadata, want) {
		t.Errorf("got %q, want %q", m.Metadata, want)
	}
	if !reflect.DeepEqual(m.Comments, []string{" saved by anna "}) {
		t.Errorf("comments %q", m.Comments)
	}
	if len(m.Warnings) != 1 || !strings.Contains(m.Warnings[0], `"Printer"`) {
		t.Errorf("warnings %q, want one about Printer", m.Warnings)
	}
}

func TestPartsAndThumbnails(t *testing.T) {
	rels := strings.Replace(goodRels, "</Relationships>", `<Relationship Id="r1" Target="Metadata/thumb.png" Type="`+relThumbnail+`"/></Relationships>`, 1)
	modelRels := `<Relationships xmlns="` + uriRelations + `"><Relationship Id="r1" Target="../Metadata/thumb.png" Type="` + relThumbnail + `"/>` +
		`<Relationship Id="r2" Target="/Metadata/plate.png" Type="` + relThumbnail + `"/></Relationships>`
	m := mustDecode(t, zipped(t,
		entry{nameContentTypes, goodTypes}, entry{nameRootRels, rels}, entry{"3D/3dmodel.model", simple(cubeObject(1), `<item objectid="1"/>`)},
		entry{"3D/_rels/3dmodel.model.rels", modelRels}, entry{"Metadata/thumb.png", "png one"}, entry{"Metadata/plate.png", "png two"},
		entry{"Metadata/settings.config", "user=anna"}, entry{"Metadata/", ""}, entry{"other/_rels/x.rels", "no XML"}))
	if want := []string{"Metadata/settings.config"}; !reflect.DeepEqual(m.Foreign(), want) {
		t.Errorf("foreign %q, want %q", m.Foreign(), want)
	}
	want := []Thumbnail{{"Metadata/thumb.png", "image/png", []byte("png one")}, {"Metadata/plate.png", "image/png", []byte("png two")}}
	if !reflect.DeepEqual(m.Thumbnails, want) {
		t.Errorf("thumbnails %q, want %q", m.Thumbnails, want)
	}
	kinds := ""
	for _, p := range m.Parts {
		kinds += p.Kind + ";"
	}
	if kinds != "content types;relationships;model;relationships;thumbnail;thumbnail;foreign;relationships;" {
		t.Errorf("kinds %s", kinds)
	}
}

// The model part is found through the relationship, never by its name or extension (2.1.1); names do
// not distinguish case (OPC).
func TestModelPartByRelationship(t *testing.T) {
	good := simple(cubeObject(1), `<item objectid="1"/>`)
	wrong := simple(`<object id="1">`+meshXML(box(1, 1, 1))+`</object>`, `<item objectid="1"/>`)
	types := strings.Replace(goodTypes, "</Types>", `<Override PartName="/3D/part.custom" ContentType="`+typeModel+`"/></Types>`, 1)
	data := zipped(t, entry{nameContentTypes, types}, entry{nameRootRels, strings.Replace(goodRels, "/3D/3dmodel.model", "/3d/PART.custom", 1)},
		entry{"3D/3dmodel.model", wrong}, entry{"3D/part.custom", good})
	m := mustDecode(t, data)
	if v := volume(m.Mesh()); v != 1000 || len(m.Warnings) != 0 {
		t.Errorf("volume %v, warnings %q; want the cube of part.custom and none", v, m.Warnings)
	}
	if got := m.Foreign(); !slices.Equal(got, []string{"3D/3dmodel.model"}) {
		t.Errorf("foreign %q: a model part that nothing refers to is foreign", got)
	}
}

// A name may be written with %20 in the relationship and a space in the zip.
func TestEscapedNames(t *testing.T) {
	rels := strings.Replace(goodRels, "</Relationships>", `<Relationship Id="r1" Target="/Metadata/my%20plate%5f1.png" Type="`+relThumbnail+`"/></Relationships>`, 1)
	m := mustDecode(t, zipped(t, entry{nameContentTypes, goodTypes}, entry{nameRootRels, rels}, entry{"3D/3dmodel.model", cube}, entry{"Metadata/my plate_1.png", "x"}, entry{"100%", ""}))
	if len(m.Thumbnails) != 1 || !slices.Equal(m.Foreign(), []string{"100%"}) {
		t.Errorf("thumbnails %v, foreign %q", m.Thumbnails, m.Foreign())
	}
}

// The production extension 1.1.2 moves meshes to other model parts by p:path.
func TestProductionParts(t *testing.T) {
	part := strings.Replace(simple(cubeObject(7)+cubeObject(8), ""), `xmlns:p=`, `requiredextensions="p" xmlns:p=`, 1)
	root := strings.Replace(simple(`<object id="1"><components><component p:path="/3D/Objects/a.model" objectid="7" p:UUID="x"/><component p:path="/3d/objects/A.model" objectid="8" transform="1 0 0 0 1 0 0 0 1 20 0 0"/></components></object>`,
		`<item objectid="1"/><item p:path="/3D/Objects/a.model" objectid="8" transform="1 0 0 0 1 0 0 0 1 40 0 0"/>`), `xmlns:p=`, `requiredextensions="p" xmlns:p=`, 1)
	m := mustDecode(t, pack(t, root, entry{"3D/Objects/a.model", part}))
	got := m.Mesh()
	if v := volume(got); !near(v, 3000, 1e-6) {
		t.Errorf("volume %v, want 3000", v)
	}
	if lo, hi := bounds(got); lo != [3]float32{} || hi != [3]float32{50, 10, 10} {
		t.Errorf("box %v to %v", lo, hi)
	}
	if len(m.Foreign()) != 0 || len(m.Items()) != 2 || len(m.Warnings) != 0 {
		t.Errorf("foreign %q, %d items, warnings %q", m.Foreign(), len(m.Items()), m.Warnings)
	}
}

func TestWarnings(t *testing.T) {
	for name, c := range map[string]struct{ model, want string }{
		"recommended extension": {strings.Replace(simple(cubeObject(1), `<item objectid="1"/>`), "xmlns:p=", `recommendedextensions="p x" xmlns:x="urn:vendor" xmlns:p=`, 1), `"x" (urn:vendor)`},
		"empty build":           {simple(cubeObject(1), ""), "the build is empty"},
		"flat transform":        {simple(cubeObject(1), `<item objectid="1" transform="1 0 0 0 1 0 0 0 0 0 0 0"/>`), "flattens"},
		"unknown element":       {simple(cubeObject(1)+"<gizmo/>", `<item objectid="1"/>`), "<gizmo>"},
		"support left out":      {simple(strings.Replace(cubeObject(1), `"model"`, `"support"`, 1), `<item objectid="1"/>`), "of type support"},
		"property of components": {simple(`<m:colorgroup id="9"><m:color color="#000000"/></m:colorgroup>`+cubeObject(1)+
			`<object id="2" pid="9" pindex="0"><components><component objectid="1"/></components></object>`, `<item objectid="2"/>`), "does not allow"},
		"property without the object's": {simple(`<m:colorgroup id="9"><m:color color="#000000"/></m:colorgroup>`+strings.Replace(cubeObject(1), `v3="1"/>`, `v3="1" pid="9" p1="0"/>`, 1),
			`<item objectid="1"/>`), "the standard asks for"},
	} {
		m, err := decode(pack(t, c.model))
		if err != nil {
			t.Errorf("%s: %v", name, err)
		} else if len(m.Warnings) != 1 || !strings.Contains(m.Warnings[0], c.want) {
			t.Errorf("%s: warnings %q, want one with %q", name, m.Warnings, c.want)
		}
	}
}

// Sharing by index is kept, and only that: two equal vertices with two indices stay two.
func TestIndicesAsGiven(t *testing.T) {
	m := box(1, 1, 1)
	m.Vertices = append(m.Vertices, m.Vertices[7])
	m.Triangles[11][1] = 8
	got := mustDecode(t, pack(t, simple(`<object id="1">`+meshXML(m)+`</object>`, `<item objectid="1"/>`))).Mesh()
	if !reflect.DeepEqual(got, m) {
		t.Errorf("got %v, want %v", got, m)
	}
}

// The fast loops round as strconv does; a decimal half-way between two float32 goes to the even one.
func TestNumbers(t *testing.T) {
	for _, text := range []string{"0", "-0", "1", "0.1", "-12.5", "16777217", "16777219", "0.3333333333333333", "9007199254740993", "123456789012345678",
		"1.00000005960464477539", "1.0000000596046448", "1.00000005960464478", "0.000001", "3.14159274101257324", "33554434.999999999", "-00012.50"} {
		fast, n := fastNumber([]byte(text+`"`), 0, 1)
		slow, err := coordinate([]byte(text), 1)
		if err != nil {
			t.Errorf("%s: %v", text, err)
		}
		if n >= 0 && (n != len(text)+1 || fast != slow) {
			t.Errorf("%s: fast %v, slow %v", text, fast, slow)
		}
	}
	for i := range 20000 {
		text := fmt.Sprintf("%d.%0*d", i*7919%1000, 1+i%9, i*104729%1000000)
		fast, n := fastNumber([]byte(text+`"`), 0, 1)
		if slow, _ := coordinate([]byte(text), 1); n >= 0 && fast != slow {
			t.Fatalf("%s: fast %v, slow %v", text, fast, slow)
		}
	}
}
