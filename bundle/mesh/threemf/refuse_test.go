package threemf

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"math/rand"
	"runtime"
	"strings"
	"testing"
)

// doubling is n objects of two components each over a cube: 2^n cubes from n lines.
func doubling(n int) string {
	var b strings.Builder
	b.WriteString(cubeObject(1))
	for i := range n {
		fmt.Fprintf(&b, `<object id="%d"><components><component objectid="%d"/><component objectid="%d"/></components></object>`, i+2, i+1, i+1)
	}
	return simple(b.String(), fmt.Sprintf(`<item objectid="%d"/>`, n+1))
}

// chain is n objects of one component each over a cube.
func chain(n int) string {
	var b strings.Builder
	b.WriteString(cubeObject(1))
	for i := range n {
		fmt.Fprintf(&b, `<object id="%d"><components><component objectid="%d"/></components></object>`, i+2, i+1)
	}
	return simple(b.String(), fmt.Sprintf(`<item objectid="%d"/>`, n+1))
}

var cube = simple(cubeObject(1), `<item objectid="1"/>`)

func swap(old, new string) string {
	out := strings.Replace(cube, old, new, 1)
	if out == cube {
		panic("nothing to swap: " + old)
	}
	return out
}

// refusedModels are models that must not be read, and a piece of the message.
var refusedModels = []struct{ name, model, want string }{
	{"doctype", swap("<model", `<!DOCTYPE model [<!ENTITY x "y">]><model`), "DOCTYPE"},
	{"entity declaration inside", swap("<resources>", `<!ENTITY x "y"><resources>`), "markup declaration"},
	{"unknown entity", swap(`x="10"`, `x="&x;"`), `unknown entity "x"`},
	{"attribute twice", swap(`x="10"`, `x="10" x="20"`), `attribute "x" twice`},
	{"attribute twice outside the mesh", swap(`unit="millimeter"`, `unit="millimeter" unit="inch"`), `attribute "unit" twice`},
	{"second root", cube + cube[strings.Index(cube, "<model"):], "second root"},
	{"trailing text", cube + "\nx", "text after the root"},
	{"leading text", "x" + cube, "text before the root"},
	{"trailing CDATA", cube + "<![CDATA[x]]>", "outside the root"},
	{"UTF-16", "\xff\xfe<\x00m\x00", "UTF-16"},
	{"latin 1 declared", swap("UTF-8", "ISO-8859-1"), `encoding "ISO-8859-1"`},
	{"not UTF-8", swap(`objectid="1"`, "objectid=\"1\" partnumber=\"\xff\""), "not UTF-8"},
	{"xml:space", swap("<resources>", `<resources xml:space="preserve">`), "xml:space"},
	{"declaration in the middle", swap("<resources>", `<?xml version="1.0"?><resources>`), "XML declaration in the middle"},
	{"empty part", "", "empty"},
	{"nothing but space", "  \n", "no root element"},
	{"not well-formed", swap("</vertices>", "</vertex>"), "</vertex> where </vertices> must stand"},
	{"prefix unknown", swap("<vertex ", "<q:vertex "), `prefix "q"`},
	{"no space between attributes", swap(`x="0" y`, `x="0"y`), "no white space"},
	{"attribute without quotes", swap(`x="0"`, `x=0`), "without quotes"},
	{"less-than in a value", swap(`x="0"`, `x="<0"`), "'<' inside a tag"},
	{"deep nesting", swap("<resources>", strings.Repeat("<m:a>", 40)+strings.Repeat("</m:a>", 40)+"<resources>"), "nested deeper than 32"},
	{"endless tag", swap("<resources>", "<resources "+blanks(3<<20)+">"), "longer than"},
	{"many attributes", swap("<resources>", "<resources "+manyAttributes(80)+">"), "more than 64 attributes"},
	{"other root", `<svg xmlns="http://www.w3.org/2000/svg"/>`, "is not <model> of 3MF core"},
	{"old namespace", swap("core/2015/02", "core/2013/01"), "is not <model> of 3MF core"},
	{"unit unknown", swap("millimeter", "furlong"), `unknown unit "furlong"`},
	{"required extension", swap("xmlns:p=", `requiredextensions="s" xmlns:s="http://schemas.microsoft.com/3dmanufacturing/slice/2015/07" xmlns:p=`), `requires the extension "s" (http://schemas.microsoft.com/3dmanufacturing/slice/2015/07)`},
	{"required extension without namespace", swap("xmlns:p=", `requiredextensions="b" xmlns:p=`), `"b" has no namespace`},
	{"no resources", modelHead + "<build/></model>", "<build> must stand once, after <resources>"},
	{"no build", modelHead + "<resources/></model>", "required"},
	{"two builds", swap("<build>", "<build/><build>"), "<build> must stand once"},
	{"two resources", swap("<resources>", "<resources/><resources>"), "<resources> must stand once"},
	{"metadata twice", swap("<resources>", `<metadata name="Title">a</metadata><metadata name="Title">b</metadata><resources>`), "stands twice"},
	{"metadata without name", swap("<resources>", `<metadata>a</metadata><resources>`), "without a name"},
	{"id twice", simple(cubeObject(1)+cubeObject(1), `<item objectid="1"/>`), "two resources have the id 1"},
	{"id of another kind twice", simple(`<m:texture2d id="1" path="/x"/>`+cubeObject(1), `<item objectid="1"/>`), "two resources have the id 1"},
	{"id zero", swap(`id="1"`, `id="0"`), "needs an id above 0"},
	{"id too large", swap(`id="1"`, `id="2147483648"`), "not a whole number below"},
	{"no id", swap(`id="1" `, ``), "needs an id"},
	{"object type", swap(`type="model"`, `type="ghost"`), `unknown type "ghost"`},
	{"object empty", simple(`<object id="1"/>`, `<item objectid="1"/>`), "neither a mesh nor components"},
	{"components empty", simple(`<object id="1"><components/></object>`, `<item objectid="1"/>`), "neither a mesh nor components"},
	{"mesh and components", simple(cubeObject(1)+strings.Replace(cubeObject(2), "</mesh>", `</mesh><components><component objectid="1"/></components>`, 1), `<item objectid="2"/>`), "one mesh or one list"},
	{"mesh empty", simple(`<object id="1"><mesh/></object>`, `<item objectid="1"/>`), "without vertices or triangles"},
	{"triangles before vertices", simple(`<object id="1"><mesh><triangles/><vertices/></mesh></object>`, `<item objectid="1"/>`), "one list of vertices, then"},
	{"text among vertices", swap("<vertex", "12<vertex"), `unexpected text "12"`},
	{"text among triangles", swap("<triangle v", "x<triangle v"), `unexpected text "x"`},
	{"index too large", swap(`v1="1"`, `v1="8"`), "uses vertex 8, the object has 8"},
	{"index negative", swap(`v1="1"`, `v1="-1"`), "not a whole number"},
	{"index broken", swap(`v1="1"`, `v1="1.0"`), "not a whole number"},
	{"index missing", swap(`v1="1" `, ``), "without v1"},
	{"index overflow", swap(`v1="1"`, `v1="4294967297"`), "not a whole number"},
	{"coordinate missing", swap(`x="0" `, ``), "without x"},
	{"coordinate NaN", swap(`x="10"`, `x="NaN"`), "not a number"},
	{"coordinate infinite", swap(`x="10"`, `x="INF"`), "not a number"},
	{"coordinate overflow", swap(`x="10"`, `x="1e39"`), "not a number"},
	{"coordinate overflow of float64", swap(`x="10"`, `x="1e999"`), "not a number"},
	{"coordinate hexadecimal", swap(`x="10"`, `x="0x1p3"`), "not a number"},
	{"coordinate decimal comma", swap(`x="10"`, `x="1,5"`), "not a number"},
	{"coordinate underscore", swap(`x="10"`, `x="1_0"`), "not a number"},
	{"coordinate empty", swap(`x="10"`, `x=""`), "not a number"},
	{"transform short", swap(`objectid="1"`, `objectid="1" transform="1 0 0"`), "has 3 numbers"},
	{"transform NaN", swap(`objectid="1"`, `objectid="1" transform="NaN 0 0 0 1 0 0 0 1 0 0 0"`), "not a number"},
	{"item of nothing", swap(`objectid="1"`, `objectid="2"`), "names object 2, which is not in the file"},
	{"item without object", swap(`objectid="1"`, ``), "without objectid"},
	{"item of type other", swap(`type="model"`, `type="other"`), "type other"},
	{"component of type other", simple(strings.Replace(cubeObject(1), `"model"`, `"other"`, 1)+`<object id="2"><components><component objectid="1"/></components></object>`, `<item objectid="2"/>`), "type other"},
	{"component of nothing", simple(`<object id="1"><components><component objectid="9"/></components></object>`, `<item objectid="1"/>`), "object 9, which is not in the file"},
	{"component of itself", simple(`<object id="1"><components><component objectid="1"/></components></object>`, `<item objectid="1"/>`), "a cycle of components"},
	{"cycle", simple(cubeObject(9)+`<object id="1"><components><component objectid="9"/><component objectid="2"/></components></object><object id="2"><components><component objectid="1"/></components></object>`, `<item objectid="1"/>`), "a cycle of components"},
	{"used before defined", simple(`<object id="1"><components><component objectid="2"/></components></object>`+cubeObject(2), `<item objectid="1"/>`), "before it is defined"},
	{"component bomb", doubling(30), "component bomb"},
	{"component bomb of triangles", doubling(20), "component bomb"},
	{"component bomb of empty meshes", strings.Replace(doubling(25), meshXML(box(10, 10, 10)), "<mesh><vertices/><triangles/></mesh>", 1), "component bomb"},
	{"components too deep", chain(33), "nested deeper than 32"},
	{"path without slash", swap(`objectid="1"`, `objectid="1" p:path="3D/a.model"`), "must begin with a slash"},
	{"path to nothing", swap(`objectid="1"`, `objectid="1" p:path="/3D/a.model"`), "not in the package"},
	{"property of nothing", swap(`type="model"`, `pid="5" pindex="0"`), "names no resource"},
	{"property outside its group", simple(`<m:colorgroup id="5"><m:color color="#000000"/></m:colorgroup>`+strings.Replace(cubeObject(1), `type="model"`, `pid="5" pindex="1"`, 1), `<item objectid="1"/>`), "property 1 of resource 5, which has 1"},
	{"property of a corner outside its group", simple(`<m:colorgroup id="5"><m:color color="#000000"/></m:colorgroup>`+strings.NewReplacer(`type="model"`, `pid="5" pindex="0"`, `v3="1"/>`, `v3="1" p1="0" p2="3"/>`).Replace(cubeObject(1)), `<item objectid="1"/>`), "property 3 of resource 5"},
	{"pindex without pid", swap(`type="model"`, `pindex="0"`), "pindex without pid"},
	{"p1 without pid", swap(`v3="1"/>`, `v3="1" p1="0"/>`), "neither it nor its object has pid"},
	{"colour", simple(`<basematerials id="5"><base name="x" displaycolor="red"/></basematerials>`+cubeObject(1), `<item objectid="1"/>`), `colour "red"`},
	{"material without colour", simple(`<basematerials id="5"><base name="x"/></basematerials>`+cubeObject(1), `<item objectid="1"/>`), "needs name and displaycolor"},
}

func manyAttributes(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, `a%d="" `, i)
	}
	return b.String()
}

func TestRefusedModels(t *testing.T) {
	if _, err := decode(pack(t, cube)); err != nil {
		t.Fatalf("the model that all others are made from: %v", err)
	}
	for _, c := range refusedModels {
		t.Run(c.name, func(t *testing.T) {
			_, err := decode(pack(t, c.model))
			if err == nil {
				t.Fatal("read without error")
			}
			if !strings.Contains(err.Error(), c.want) {
				t.Errorf("message %q does not say %q", err, c.want)
			}
		})
	}
}

// The limits do not hit what is allowed: depth 32, a plate of thousands of copies.
func TestJustAllowed(t *testing.T) {
	for name, model := range map[string]string{"chain of 32": chain(32), "4096 copies": doubling(12)} {
		if _, err := decode(pack(t, model)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// refusedPackages are packages that must not be read.
func refusedPackages(t testing.TB) []struct {
	name string
	data []byte
	want string
} {
	part := func(name, body string) entry { return entry{name, body} }
	types, rels, model := part(nameContentTypes, goodTypes), part(nameRootRels, goodRels), part("3D/3dmodel.model", cube)
	rel := func(more string) entry {
		return part(nameRootRels, strings.Replace(goodRels, "</Relationships>", more+"</Relationships>", 1))
	}
	encrypted := pack(t, cube)
	for i := 0; i+10 < len(encrypted); i++ {
		if string(encrypted[i:i+4]) == "PK\x01\x02" {
			encrypted[i+8] |= 1
		}
	}
	method := pack(t, cube)
	for i := 0; i+12 < len(method); i++ {
		if string(method[i:i+4]) == "PK\x01\x02" {
			binary.LittleEndian.PutUint16(method[i+10:], 12)
		}
	}
	stored := storedPackage(t, cube)
	wrongCRC := bytes.Replace(stored, []byte(`x="10"`), []byte(`x="11"`), 1)
	var many []entry
	for i := range maxEntries + 1 {
		many = append(many, part(fmt.Sprint("p", i), ""))
	}
	cycle := func(from, to string) string {
		return simple(`<object id="1"><components><component objectid="1" p:path="`+to+`"/></components></object>`, "")
	}
	return []struct {
		name string
		data []byte
		want string
	}{
		{"empty file", nil, "not a zip archive"},
		{"not a zip", []byte("solid x\nendsolid x\n"), "not a zip archive"},
		{"zip without content types", zipped(t, rels, model), "it is not a 3MF package"},
		{"zip without relationships", zipped(t, types, model), "names no 3D model"},
		{"content types are no XML", zipped(t, part(nameContentTypes, "x"), rels, model), "text before the root"},
		{"content types of another kind", zipped(t, part(nameContentTypes, "<Types/>"), rels, model), `it must be "Types"`},
		{"content types with DOCTYPE", zipped(t, part(nameContentTypes, "<!DOCTYPE Types>"+goodTypes[strings.Index(goodTypes, "<Types"):]), rels, model), "DOCTYPE"},
		{"relationships with DOCTYPE", zipped(t, types, part(nameRootRels, "<!DOCTYPE x>"+goodRels[strings.Index(goodRels, "<Rel"):]), model), "DOCTYPE"},
		{"model part missing", zipped(t, types, rels), `"/3D/3dmodel.model" that a relationship names is not in the package`},
		{"thumbnail missing", zipped(t, types, rel(`<Relationship Id="a" Target="/t.png" Type="`+relThumbnail+`"/>`), model), `"/t.png" that a relationship names`},
		{"print ticket missing", zipped(t, types, rel(`<Relationship Id="a" Target="/t.xml" Type="`+relTicket+`"/>`), model), `"/t.xml" that a relationship names`},
		{"two starts", zipped(t, types, rel(`<Relationship Id="a" Target="/other.model" Type="`+relModel+`"/>`), model, part("other.model", cube)), "two model parts as its start"},
		{"one relationship twice", zipped(t, types, rel(`<Relationship Id="a" Target="/3D/3dmodel.model" Type="`+relModel+`"/>`), model), "two relationships of one type"},
		{"external target", zipped(t, types, rel(`<Relationship Id="a" TargetMode="External" Target="http://example.org/a" Type="x"/>`), model), "leads out of the package"},
		{"address as target", zipped(t, types, rel(`<Relationship Id="a" Target="http://example.org/a" Type="x"/>`), model), "leads out of the package"},
		{"backslash in a target", zipped(t, types, rel(`<Relationship Id="a" Target="\3D\x" Type="x"/>`), model), "backslash"},
		{"relationship without target", zipped(t, types, rel(`<Relationship Id="a" Type="x"/>`), model), "without Target"},
		{"backslash in a name", zipped(t, types, rels, model, part(`Metadata\x`, "")), "backslash"},
		{"absolute name", zipped(t, types, rels, model, part("/etc/passwd", "")), "absolute"},
		{"name with dots", zipped(t, types, rels, model, part("a/../b", "")), "ends in a dot"},
		{"name with empty segment", zipped(t, types, rels, model, part("a//b", "")), "empty"},
		{"name twice", zipped(t, types, rels, model, model), "twice"},
		{"name twice but for case", zipped(t, types, rels, model, part("3d/3DModel.model", cube)), "twice"},
		{"encrypted", encrypted, "encrypted"},
		{"packed by another method", method, "method 12"},
		{"wrong CRC", wrongCRC, "checksum"},
		{"too many entries", zipped(t, append([]entry{types, rels, model}, many...)...), "entries"},
		{"zip bomb", zipped(t, types, rels, model, part("zero", strings.Repeat("\x00", 40<<20))), "zip bomb"},
		{"zip bomb as model", pack(t, strings.Repeat(" ", 4<<20)+cube), "zip bomb"},
		{"overlapping entries", overlapping(t, 600), "zip bomb"},
		{"lying sizes", hugeSizes(t), "unpacks to more than"},
		{"large content types", zipped(t, part(nameContentTypes, goodTypes+noise(maxSmallPart)), rels, model), "larger than"},
		{"cycle through parts", zipped(t, types, rels,
			part("3D/3dmodel.model", simple(cubeObject(5)+`<object id="1"><components><component objectid="1" p:path="/a.model"/></components></object>`, `<item objectid="1"/>`)),
			part("a.model", cycle("/a.model", "/b.model")), part("b.model", cycle("/b.model", "/a.model"))), "contains itself"},
		{"path to an object that is not there", zipped(t, types, rels, part("3D/3dmodel.model", swap(`objectid="1"`, `objectid="3" p:path="/a.model"`)), part("a.model", simple(cubeObject(1), ""))), "names object 3"},
		{"path to a part that is no model", zipped(t, types, rels, part("3D/3dmodel.model", swap(`objectid="1"`, `objectid="3" p:path="/a.txt"`)), part("a.txt", "hello")), `"a.txt", byte`},
		{"extension required by a further part", zipped(t, types, rels, part("3D/3dmodel.model", swap(`objectid="1"`, `objectid="1" p:path="/a.model"`)),
			part("a.model", strings.Replace(simple(cubeObject(1), ""), "xmlns:p=", `requiredextensions="v" xmlns:v="urn:v" xmlns:p=`, 1))), `"v" (urn:v)`},
	}
}

// blanks is white space that deflate cannot shrink below the zip bomb limits.
func blanks(n int) string {
	random := rand.New(rand.NewSource(1))
	b := make([]byte, n)
	for i := range b {
		b[i] = " \n"[random.Intn(2)]
	}
	return string(b)
}

// noise is text that deflate cannot shrink below the zip bomb limits.
func noise(n int) string {
	random := rand.New(rand.NewSource(1))
	b := make([]byte, n)
	for i := range b {
		b[i] = byte(' ' + random.Intn(2))
	}
	return "<!--" + strings.ReplaceAll(string(b), "!", "x") + "-->"
}

// storedPackage is pack without compression.
func storedPackage(t testing.TB, model string) []byte {
	t.Helper()
	var buf bytes.Buffer
	w := zip.NewWriter(&buf)
	for _, e := range []entry{{nameContentTypes, goodTypes}, {nameRootRels, goodRels}, {"3D/3dmodel.model", model}} {
		f, err := w.CreateHeader(&zip.FileHeader{Name: e.name, Method: zip.Store})
		if err != nil {
			t.Fatal(err)
		}
		f.Write([]byte(e.body))
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// overlapping is a zip whose directory lists one entry of 1 MiB many times under many names.
func overlapping(t testing.TB, n int) []byte {
	t.Helper()
	data := zipped(t, entry{"a000", strings.Repeat("0123456789abcdefghijklmnopqrstuv"+string(rune('a')), 31000)})
	start := bytes.Index(data, []byte("PK\x01\x02"))
	end := bytes.LastIndex(data, []byte("PK\x05\x06"))
	out := append([]byte{}, data[:start]...)
	for i := range n {
		header := append([]byte{}, data[start:end]...)
		copy(header[46:], fmt.Sprintf("a%03d", i))
		out = append(out, header...)
	}
	tail := append([]byte{}, data[end:]...)
	binary.LittleEndian.PutUint16(tail[8:], uint16(n))
	binary.LittleEndian.PutUint16(tail[10:], uint16(n))
	binary.LittleEndian.PutUint32(tail[12:], uint32(n*(end-start)))
	return append(out, tail...)
}

// hugeSizes claims 2 GiB, packed and unpacked, for an entry of a few bytes.
func hugeSizes(t testing.TB) []byte {
	data := pack(t, cube)
	i := bytes.LastIndex(data, []byte("PK\x01\x02"))
	binary.LittleEndian.PutUint32(data[i+20:], 2<<30)
	binary.LittleEndian.PutUint32(data[i+24:], 2<<30)
	return data
}

func TestRefusedPackages(t *testing.T) {
	for _, c := range refusedPackages(t) {
		t.Run(c.name, func(t *testing.T) {
			_, err := decode(c.data)
			if err == nil {
				t.Fatal("read without error")
			}
			if !strings.Contains(err.Error(), c.want) {
				t.Errorf("message %q does not say %q", err, c.want)
			}
		})
	}
}

// A directory that announces three entries and lists very many must not cost memory.
func TestLyingDirectory(t *testing.T) {
	data := zipped(t, entry{"a", ""})
	start := bytes.Index(data, []byte("PK\x01\x02"))
	end := bytes.LastIndex(data, []byte("PK\x05\x06"))
	const n = 65536*3 + 1 // the number in the end record is compared modulo 65536
	out := append([]byte{}, data[:start]...)
	out = append(out, bytes.Repeat(data[start:end], n)...)
	tail := append([]byte{}, data[end:]...)
	binary.LittleEndian.PutUint32(tail[12:], uint32(n*(end-start)))
	out = append(out, tail...)
	_, err := decode(out)
	if err == nil || !strings.Contains(err.Error(), "directory is larger") {
		t.Errorf("error %v, want one about the directory", err)
	}
}

// Cut at every byte, the package and each of its parts, it is an error each time.
func TestTruncated(t *testing.T) {
	data := pack(t, cube)
	for n := range len(data) {
		if _, err := decode(data[:n]); err == nil {
			t.Fatalf("package cut at %d of %d was read", n, len(data))
		}
	}
	for n := range len(cube) {
		if _, err := decode(pack(t, cube[:n])); err == nil {
			t.Fatalf("model cut at %d of %d was read", n, len(cube))
		}
	}
	for n := range len(goodRels) {
		if _, err := decode(zipped(t, entry{nameContentTypes, goodTypes}, entry{nameRootRels, goodRels[:n]}, entry{"3D/3dmodel.model", cube})); err == nil {
			t.Fatalf("relationships cut at %d were read", n)
		}
	}
}

// Reading costs no more than three times what the package holds unpacked, plus a constant; a bomb of
// components costs nothing.
func TestAllocation(t *testing.T) {
	big := simple(`<object id="1">`+meshXML(torus(60, 20, 200, 100))+`</object>`, `<item objectid="1"/>`)
	for name, data := range map[string][]byte{"torus": pack(t, big), "stored": storedPackage(t, big), "component bomb": pack(t, doubling(30)), "lying sizes": hugeSizes(t)} {
		limit := uint64(4 << 20)
		if name != "component bomb" && name != "lying sizes" {
			limit += 3 * uint64(len(big))
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		decode(data)
		runtime.ReadMemStats(&after)
		if got := after.TotalAlloc - before.TotalAlloc; got > limit {
			t.Errorf("%s: %d bytes allocated, limit %d", name, got, limit)
		}
	}
}
