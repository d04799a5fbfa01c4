package privacy

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func tool(t testing.TB, name string) string {
	t.Helper()
	p, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatalf("%s is not installed, and DROPWRIGHT_CI is set", name)
		}
		t.Skipf("SKIPPED, NOTHING CHECKED: %s is not installed", name)
	}
	return p
}

func asJPEG(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewNRGBA(image.Rect(0, 0, 32, 16)), nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asPNG(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewNRGBA(image.Rect(0, 0, 32, 16))); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// kinds are the kinds of leaks, each once, sorted, joined by spaces.
func kinds(leaks []Leak) string {
	var out []string
	for _, l := range leaks {
		if !slices.Contains(out, string(l.Kind)) {
			out = append(out, string(l.Kind))
		}
	}
	slices.Sort(out)
	return strings.Join(out, " ")
}

// TestExiftoolWrites has exiftool, which knows the standards better than we do, put one thing at a
// time into a clean picture; each must be found as its kind, and nothing in the picture before.
func TestExiftoolWrites(t *testing.T) {
	exiftool := tool(t, "exiftool")
	pictures := map[string][]byte{".jpg": asJPEG(t), ".png": asPNG(t)}
	thumb := filepath.Join(t.TempDir(), "thumb.jpg")
	if err := os.WriteFile(thumb, asJPEG(t), 0o644); err != nil {
		t.Fatal(err)
	}
	position := []string{"-GPSLatitude=38.7", "-GPSLatitudeRef=N", "-GPSLongitude=9.1", "-GPSLongitudeRef=W"}
	for _, c := range []struct {
		ext  string
		args []string
		want Kind // "" for none
	}{
		{".jpg", nil, ""}, {".png", nil, ""},
		{".jpg", position, Position}, {".png", position, Position},
		{".jpg", []string{"-GPSVersionID=2.3.0.0", "-GPSProcessingMethod=manual"}, ""}, // an empty block is no leak
		{".jpg", []string{"-EXIF:GPSDestLatitude=1", "-EXIF:GPSDestLongitude=2"}, Position},
		{".jpg", []string{"-EXIF:GPSAreaInformation=Harbour"}, Position},
		{".jpg", []string{"-XMP-exif:GPSLatitude=38.7", "-XMP-exif:GPSLongitude=-9.1"}, Position},
		{".png", []string{"-XMP-exif:GPSLatitude=38.7", "-XMP-exif:GPSLongitude=-9.1"}, Position},
		{".jpg", []string{"-IPTC:City=Lisbon"}, Position},
		{".jpg", []string{"-XMP-photoshop:City=Lisbon"}, Position},
		{".jpg", []string{"-EXIF:Artist=A. Name"}, Name}, {".png", []string{"-EXIF:Artist=A. Name"}, Name},
		{".jpg", []string{"-EXIF:OwnerName=A. Name"}, Name},
		{".jpg", []string{"-EXIF:Copyright=A. Name"}, Name},
		{".jpg", []string{"-EXIF:XPAuthor=A. Name"}, Name},
		{".jpg", []string{"-IPTC:By-line=A. Name"}, Name},
		{".jpg", []string{"-XMP-dc:Creator=A. Name"}, Name},
		{".jpg", []string{"-XMP-iptcExt:PersonInImage=A. Name"}, Name},
		{".png", []string{"-PNG:Author=A. Name"}, Name},
		{".jpg", []string{"-EXIF:SerialNumber=1234567"}, Serial},
		{".jpg", []string{"-EXIF:LensSerialNumber=1234567"}, Serial},
		{".jpg", []string{"-XMP-aux:SerialNumber=1234567"}, Serial},
		{".jpg", []string{"-ThumbnailImage<=" + thumb}, Thumbnail},
		{".jpg", []string{"-Comment=hello"}, Comment}, {".png", []string{"-PNG:Comment=hello"}, Comment},
		{".jpg", []string{"-EXIF:UserComment=hello"}, Comment},
		{".jpg", []string{"-EXIF:ImageDescription=/home/anne/pictures/1.jpg"}, Comment},
		{".jpg", []string{"-EXIF:DateTimeOriginal=2026:01:02 03:04:05"}, Time},
		{".jpg", []string{"-EXIF:Model=Camera 3"}, Device},
		{".png", []string{"-PNG:Software=Editor"}, Device},
	} {
		name := filepath.Join(t.TempDir(), "picture"+c.ext)
		if err := os.WriteFile(name, pictures[c.ext], 0o644); err != nil {
			t.Fatal(err)
		}
		if c.args != nil {
			args := append([]string{"-overwrite_original", "-q", "-n"}, c.args...)
			if out, err := exec.Command(exiftool, append(args, name)...).CombinedOutput(); err != nil {
				t.Fatalf("%v: %v: %s", c.args, err, out)
			}
		}
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if c.args != nil && bytes.Equal(data, pictures[c.ext]) {
			t.Errorf("%v: exiftool changed nothing", c.args)
		}
		leaks := Scan("p"+c.ext, data)
		if got := kinds(leaks); got != string(c.want) {
			t.Errorf("%s %v: got %q, want %q: %v", c.ext, c.args, got, c.want, leaks)
		}
		for _, l := range leaks {
			if l.Where != "p"+c.ext || l.What == "" || (l.Text == "" && c.want != Position && c.want != Thumbnail) {
				t.Errorf("%v: %+v", c.args, l)
			}
		}
	}
}

func segment(marker byte, body string) []byte {
	b := []byte{0xff, marker}
	b = binary.BigEndian.AppendUint16(b, uint16(len(body)+2))
	return append(b, body...)
}

// TestPictures bends pictures by hand where exiftool would not.
func TestPictures(t *testing.T) {
	jpg, pic := asJPEG(t), asPNG(t)
	with := func(s []byte) []byte { return slices.Concat(jpg[:2], s, jpg[2:]) }
	riff := func(chunks ...string) []byte {
		b := []byte("RIFF\x00\x00\x00\x00WEBP")
		for i := 0; i < len(chunks); i += 2 {
			b = append(b, chunks[i]...)
			b = binary.LittleEndian.AppendUint32(b, uint32(len(chunks[i+1])))
			b = append(b, chunks[i+1]...)
			if len(chunks[i+1])%2 == 1 {
				b = append(b, 0)
			}
		}
		return b
	}
	artist := "II*\x00\x08\x00\x00\x00\x01\x00\x3b\x01\x02\x00\x04\x00\x00\x00Ann\x00\x00\x00\x00\x00"
	for _, c := range []struct {
		name string
		data []byte
		want string
	}{
		{"film behind the end", append(slices.Clone(jpg), "\x00\x00\x00\x18ftypmp42"...), "trailing"},
		{"path behind the end", append(slices.Clone(jpg), " /home/anne/a.jpg"...), "path trailing"},
		{"second picture with a name", slices.Concat(jpg, jpg[:2], segment(0xe1, "Exif\x00\x00"+artist)), "name trailing"},
		{"behind a PNG", append(slices.Clone(pic), 0), "trailing"},
		{"list of pictures", with(segment(0xe2, "MPF\x00II*\x00")), "thumbnail"},
		{"JFIF thumbnail", with(segment(0xe0, "JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x01\x01abc")), "thumbnail"},
		{"JFIF", with(segment(0xe0, "JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00")), ""},
		{"Photoshop thumbnail", with(segment(0xed, "Photoshop 3.0\x008BIM\x04\x0c\x00\x00\x00\x00\x00\x02ab")), "thumbnail"},
		{"path in a profile", with(segment(0xe2, "ICC_PROFILE\x00\x01\x01 from C:\\Users\\anne\\a.icc")), "path"},
		{"unknown block", with(segment(0xe5, "something")), "vendor"},
		{"EXIF that makes no sense", with(segment(0xe1, "Exif\x00\x00hello")), "unread"},
		{"EXIF that runs in circles", with(segment(0xe1, "Exif\x00\x00II*\x00\x08\x00\x00\x00\x01\x00\x69\x87\x04\x00\x01\x00\x00\x00\x08\x00\x00\x00\x08\x00\x00\x00")), ""},
		{"cut short", jpg[:len(jpg)-2], "unread"},
		{"a PNG cut short", pic[:len(pic)-4], "unread"},
		{"WebP with a name", riff("VP8 ", "xxx", "EXIF", artist), "name"},
		{"WebP with XMP", riff("VP8 ", "xx", "XMP ", `<rdf:Description exif:GPSLatitude="38,7N"/>`), "position"},
		{"WebP", riff("VP8 ", "xx"), ""},
		{"HEIC", []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00"), "unread"},
		{"TIFF", []byte("II*\x00\x08\x00\x00\x00"), "unread"},
	} {
		if got := Scan("x", c.data); kinds(got) != c.want {
			t.Errorf("%s: got %q, want %q: %v", c.name, kinds(got), c.want, got)
		}
	}
}

func TestText(t *testing.T) {
	for _, c := range []struct{ text, want string }{ // want: "kind text" or ""
		{`import("C:\Users\anne\case.stl");`, `path C:\Users\anne\case.stl`},
		{`{"dir": "D:\\work\\case"}`, `path D:\\work\\case`},
		{`from c:/Projects/vent minder/case.scad`, `path c:/Projects/vent minder/case.scad`},
		{`see https://hollow-lane.example/home/anne/`, ``},
		{`https://hollow-lane.example:8080/Users/x`, ``},
		{`at 12:/30`, ``}, {`A:\`, ``}, {`ratio a:b`, ``}, {`x:\n`, ``},
		{`on \\nas\prints\case`, `path \\nas\prints\case`},
		{`"a\\b\\c"`, ``}, {`\\ a`, ``},
		{`use </home/anne/lib.scad>`, `path /home/anne/lib.scad`},
		{`/Users/anne/Desktop/a b.stl`, `path /Users/anne/Desktop/a b.stl`},
		{`../home/anne`, ``}, {`${x}/home/anne`, ``}, {`/home/`, ``}, {`/home/ and away`, ``},
		{`file:///home/anne/a`, `path file:///home/anne/a`},
		{`mail anne.o'x@hollow-lane.example.`, `email x@hollow-lane.example`},
		{`anne+print@mail.hollow-lane.example, please`, `email anne+print@mail.hollow-lane.example`},
		{`photo@2x.png`, ``}, {`@media`, ``}, {`a@b`, ``}, {`pkg@1.2.3`, ``}, {`a@b.c`, ``},
		{`http://192.168.1.20/api`, `address 192.168.1.20`},
		{`10.0.0.1`, `address 10.0.0.1`}, {`10.5 10.25.3 10.0.0.256 1.10.0.0.1 v10.0.0.1`, ``}, {`10.0.0.1.5`, ``},
		{`172.16.0.9`, `address 172.16.0.9`}, {`172.32.0.9`, ``}, {`8.8.8.8`, ``},
		{`ssh octo-print.local:5000`, `address octo-print.local`}, {`~/.local/share`, ``}, {`a.localhost`, ``}, {`this.local()`, ``}, {`math.local.x`, ``},
		{"Hand tight. Let it cool: 3 x 4 = 12 (M3 x 8).\n", ``},
	} {
		leaks := Scan("README.txt", []byte(c.text))
		got := ""
		if len(leaks) > 0 {
			got = string(leaks[0].Kind) + " " + leaks[0].Text
		}
		if got != c.want && !(strings.HasPrefix(c.want, "path file:") && len(leaks) == 2) {
			t.Errorf("%q: got %q, want %q", c.text, got, c.want)
		}
	}
}

// TestTextAcrossWindows puts a path at every offset around the end of a window: found once, whole.
func TestTextAcrossWindows(t *testing.T) {
	const want = "/home/anne/cases/vent-minder.stl"
	for shift := -45; shift < 45; shift += 4 {
		for _, edge := range []int{window, window - overlap} {
			text := append(bytes.Repeat([]byte(" "), edge+shift), (want + "\n" + strings.Repeat(" ", 2000))...)
			leaks := Scan("x.txt", text)
			if len(leaks) != 1 || leaks[0].Text != want {
				t.Fatalf("at %d%+d: %v", edge, shift, leaks)
			}
		}
	}
}

type part struct{ name, text string }

func asZip(t testing.TB, comment string, parts ...part) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	if err := z.SetComment(comment); err != nil {
		t.Fatal(err)
	}
	for _, p := range parts {
		w, err := z.Create(p.name)
		if err != nil {
			t.Fatal(err)
		}
		io.WriteString(w, p.text)
	}
	z.Close()
	return b.Bytes()
}

func Test3MF(t *testing.T) {
	types := part{"[Content_Types].xml", `<?xml version="1.0"?><Types/>`}
	var mesh strings.Builder // more than a window
	for i := range 40_000 {
		fmt.Fprintf(&mesh, `<vertex x="10.%d" y="172.25" z="%d"/>`, i*i%7919, i)
	}
	model := func(metadata string) part {
		return part{"3D/3dmodel.model", `<?xml version="1.0"?><model unit="millimeter">` + metadata + mesh.String() + `</model>`}
	}
	exif := asJPEG(t)
	exif = slices.Concat(exif[:2], segment(0xfe, "a comment"), exif[2:])
	inner := asZip(t, "", part{"a.txt", "/home/anne/a"})
	deep := inner
	for range maxDepth {
		deep = asZip(t, "", part{"in.zip", string(deep)})
	}
	for _, c := range []struct {
		name string
		data []byte
		want string
	}{
		{"clean", asZip(t, "", types, model(`<metadata name="Title">Vent Minder</metadata>`), part{"_rels/.rels", "<?xml?>"}, part{"Metadata/thumbnail.png", string(asPNG(t))}), ""},
		{"designer", asZip(t, "", types, model(`<metadata name="Designer">Anne</metadata>`)), "name"},
		{"designer, other quotes", asZip(t, "", types, model(`<metadata preserve="1" name='Designer' >Anne</metadata>`)), "name"},
		{"empty designer", asZip(t, "", types, model(`<metadata name="Designer"></metadata>`)), ""},
		{"program and time", asZip(t, "", types, model(`<metadata name="Application">x</metadata><metadata name="CreationDate">2026-01-02</metadata>`)), "device time"},
		{"metadata behind much", asZip(t, "", types, part{"3D/3dmodel.model", model("").text + `<metadata name="Designer">Anne</metadata>`}), "name"},
		{"own metadata with a path", asZip(t, "", types, model(`<metadata name="x:source">C:\Users\anne\case.f3d</metadata>`)), "path vendor"},
		{"settings with an address", asZip(t, "", types, part{"Metadata/print.config", "; host = 192.168.1.20"}), "address vendor"},
		{"thumbnail with a comment", asZip(t, "", types, part{"Thumbnails/t.jpg", string(exif)}), "comment"},
		{"comment of the zip", asZip(t, "by Anne"), "comment"},
		{"name of a part", asZip(t, "", part{"x /home/anne/a.stl", "solid"}), "path"},
		{"zip in a zip", asZip(t, "", part{"in.zip", string(inner)}), "path"},
		{"zips too deep", deep, "unread"},
		{"bomb", asZip(t, "", part{"a.txt", strings.Repeat("0", 5<<20)}), "unread"},
		{"damaged", append([]byte("PK\x03\x04"), make([]byte, 100)...), "unread"},
		{"many parts", asZip(t, "", make([]part, maxParts+1)...), "unread"},
	} {
		leaks := Scan("arm.3mf", c.data)
		if kinds(leaks) != c.want {
			t.Errorf("%s: got %q, want %q: %v", c.name, kinds(leaks), c.want, leaks)
		}
	}
	leaks := Scan("arm.3mf", asZip(t, "", types, model(`<metadata name="Designer">Anne</metadata>`)))
	if want := (Leak{Name, `metadata "Designer"`, "arm.3mf: 3D/3dmodel.model", "Anne"}); len(leaks) != 1 || leaks[0] != want {
		t.Errorf("%+v", leaks)
	}
}

func TestModels(t *testing.T) {
	stl := func(header string, n int) []byte {
		b := make([]byte, 84+50*n)
		copy(b, header)
		binary.LittleEndian.PutUint32(b[80:], uint32(n))
		for i := 84; i < len(b); i++ {
			b[i] = byte(i)
		}
		return b
	}
	// The header of the example in ISO 10303-21 has this form.
	step := func(name string) string {
		return "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME" + name + ";\nFILE_SCHEMA(('AUTOMOTIVE_DESIGN'));\nENDSEC;\nDATA;\n#1=CARTESIAN_POINT('',(10.,0.,0.));\nENDSEC;\nEND-ISO-10303-21;\n"
	}
	for _, c := range []struct {
		name, file, data, want string
	}{
		{"STL", "a.stl", string(stl("", 3)), ""},
		{"STL with a path", "a.stl", string(stl(`C:\Users\anne\case.stl`, 3)), "header path"},
		{"STL with a header", "a.stl", string(stl("made by a program", 3)), "header"},
		{"STL in text", "a.stl", "solid \nfacet normal 0 0 1\nendsolid\n", ""},
		{"STL in text with a name", "a.stl", "solid case of anne\nfacet normal 0 0 1\nendsolid\n", "header"},
		{"STL in text with a path at the end", "a.stl", "solid\nfacet normal 0 0 1\nendsolid /home/anne/a\n", "path"},
		{"STEP", "a.step", step("('','',(''),(''),'','','')"), ""},
		{"STEP with author", "a.step", step("('case','2026-01-02T03:04:05',('Anne O''Hara'),('none'),'kernel','program','')"), "device name time"},
		{"STEP with organisation", "a.step", step("('case','',(''),\n  ('Hollow Lane'),'','','')"), "name"},
		{"STEP with a path", "a.step", step(`('D:\work\case','',(''),(''),'','','')`), "path"},
		{"STEP with a person", "a.step", step("('','',(''),(''),'','','')") + "#2=PERSON('1','Hara','Anne',$,$,$);", "name"},
		{"STEP cut short", "a.step", "ISO-10303-21;\nHEADER;FILE_NAME('a','b',('Anne", "name time"},
		{"OpenSCAD", "a.scad", "// anne@hollow-lane.example\ninclude </home/anne/x.scad>", "email path"},
		{"PDF", "a.pdf", "%PDF-1.7\n<< /Author (Anne) /Producer (x) >>", "device name"},
		{"PDF without", "a.pdf", "%PDF-1.7\n<< /Type /Catalog >>", ""},
		{"empty", "a.txt", "", ""},
	} {
		if leaks := Scan(c.file, []byte(c.data)); kinds(leaks) != c.want {
			t.Errorf("%s: got %q, want %q: %v", c.name, kinds(leaks), c.want, leaks)
		}
	}
	packed := asZip(t, "", part{"top/a.stl", string(stl("by Anne", 3))}, part{"top/b.stl", string(stl("", 3))}, part{"top/a.step", step("('','',('Anne'),(''),'','','')")})
	if got := fmt.Sprint(Scan("bundle.zip", packed)); got != "[{header header of the STL bundle.zip: top/a.stl by Anne} {name author in FILE_NAME bundle.zip: top/a.step Anne}]" {
		t.Error(got)
	}
	leaks := Scan("a.step", []byte(step("('',' ',('Anne O''Hara','B'),(''),'','','')")))
	if len(leaks) != 2 || leaks[0].Text != "Anne O'Hara" || leaks[0].What != "author in FILE_NAME" {
		t.Errorf("%v", leaks)
	}
}

func TestManyLeaks(t *testing.T) {
	var b strings.Builder
	for i := range 10 * maxLeaks {
		fmt.Fprintf(&b, "/home/anne/%d\n", i)
	}
	leaks := Scan("a.txt", []byte(b.String()))
	if len(leaks) != maxLeaks+1 || leaks[maxLeaks].Kind != Unread {
		t.Errorf("%d leaks", len(leaks))
	}
}

// brokenReader fails behind n bytes.
type brokenReader struct {
	r io.ReaderAt
	n int64
}

var errDisk = errors.New("disk is gone")

func (b brokenReader) ReadAt(p []byte, off int64) (int, error) {
	if off+int64(len(p)) > b.n {
		return 0, errDisk
	}
	return b.r.ReadAt(p, off)
}

func TestReaderFails(t *testing.T) {
	for name, data := range map[string][]byte{
		"a.txt": bytes.Repeat([]byte("hello "), 1000), "a.jpg": append(asJPEG(t), make([]byte, 2000)...), "a.png": append(asPNG(t), make([]byte, 2000)...),
		"a.stl": []byte("solid\n" + strings.Repeat("facet\n", 1000)), "a.step": []byte("ISO-10303-21;" + strings.Repeat(" ", 2000)),
	} {
		for _, n := range []int64{0, 100, 700} {
			if _, err := ScanReader(name, brokenReader{bytes.NewReader(data), n}, int64(len(data))); !errors.Is(err, errDisk) {
				t.Errorf("%s fails behind %d: %v", name, n, err)
			}
		}
	}
}

// FuzzScan: no panic, no hang, and the second look sees the same.
func FuzzScan(f *testing.F) {
	jpg := asJPEG(f)
	f.Add("a.jpg", slices.Concat(jpg[:2], segment(0xe1, "Exif\x00\x00II*\x00\x08\x00\x00\x00\x01\x00\x3b\x01\x02\x00\x04\x00\x00\x00Ann\x00\x00\x00\x00\x00"), jpg[2:]))
	f.Add("a.jpg", slices.Concat(jpg[:2], segment(0xed, "Photoshop 3.0\x008BIM\x04\x04\x00\x00\x00\x00\x00\x08\x1c\x02\x50\x00\x03Ann"), jpg[2:]))
	f.Add("a.png", asPNG(f))
	f.Add("a.3mf", asZip(f, "c", part{"[Content_Types].xml", "<?xml?>"}, part{"3D/a.model", `<?xml?><metadata name="Designer">A</metadata>`}))
	f.Add("a.step", []byte("ISO-10303-21;HEADER;FILE_NAME('a','b',('c'),('d'),'','','');"))
	f.Add("a.stl", []byte("solid x\nendsolid"))
	f.Add("a.txt", []byte(`C:\Users\a \\nas\b a@b.example 10.0.0.1 x.local file:///home/a`))
	f.Fuzz(func(t *testing.T, name string, data []byte) {
		a, b := Scan(name, data), Scan(name, data)
		if !slices.Equal(a, b) {
			t.Errorf("%v, then %v", a, b)
		}
		for _, l := range a {
			if strings.ContainsAny(l.Text, "\n\x1b") || len([]rune(l.Text)) > 81 {
				t.Errorf("text %q", l.Text)
			}
		}
	})
}

func BenchmarkText(b *testing.B) {
	line := `     <vertex x="10.52344" y="172.25" z="-3.4375"/>` + "\n"
	data := bytes.Repeat([]byte(line), 20_000)
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if len(Scan("a.xml", data)) > 0 {
			b.Fatal("found something")
		}
	}
}
