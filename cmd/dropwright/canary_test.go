package main

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dropwright/series/target/storetest"
)

// canary is a design whose every word is found nowhere else.
type canary struct {
	name                       string
	title, summary, part, mesh string
	story, note                string
	public                     time.Time // the instant from which everybody may know it
	titleFree                  bool      // its teaser lets the title be known beforehand
	earlyText, extraName       string
}

// words are what nobody may read before its day.
func (c canary) words() []string {
	out := []string{c.summary, c.part, c.mesh, c.story, c.note, c.extraName, "zorbel-" + c.name, c.earlyText}
	if !c.titleFree {
		out = append(out, c.title)
	}
	return out
}

func lisbonTime(t *testing.T, day string) time.Time {
	t.Helper()
	at, err := time.Parse("2006-01-02 15:04", day+" 17:00") // Lisbon is at UTC until 28 March 2027
	if err != nil {
		t.Fatal(err)
	}
	return at
}

// canarySeason is a season of four small designs, released into two stores and a folder.
func canarySeason(t *testing.T, dir, store string) []canary {
	t.Helper()
	all := []canary{
		{name: "quill", title: "Quorlvex", summary: "Brimtosk holds it.", part: "thrupple", mesh: "gloamst.stl", story: "Wexlotint", note: "Frobdure", extraName: "spindrax.csv", earlyText: "Yarlquen", public: lisbonTime(t, "2027-01-29")},
		{name: "brock", title: "Nimbratz", summary: "Olquivar turns.", part: "daxolm", mesh: "pultrev.stl", story: "Hespodyne", note: "Crumvalt", extraName: "wimborax.csv", earlyText: "Tazlimer", public: lisbonTime(t, "2027-02-05"), titleFree: true},
		{name: "shard", title: "Kelvopra", summary: "Dwimmeroth bends.", part: "fenquast", mesh: "uxbridle.stl", story: "Lorquimond", note: "Jabberolt", extraName: "mipsandt.csv", earlyText: "Obvexlin", public: lisbonTime(t, "2027-02-19")},
		{name: "flume", title: "Vastrigel", summary: "Umbrestox floats.", part: "gorplinx", mesh: "ystrevan.stl", story: "Ploverquist", note: "Zantholem", extraName: "hexlimbt.csv", earlyText: "Rundlefax", public: lisbonTime(t, "2027-03-26")},
	}
	write := func(name, text string) {
		p := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	write("series.yaml", fmt.Sprintf(`series: allotment-instruments
title: Allotment Instruments
maker: {name: Hollow Lane Workshop, url: "https://hollow-lane.example"}
licence: CC-BY-SA-4.0
currency: EUR
history: folder
calendar:
  first: 2027-01-08
  weeks: 12
  at: "17:00"
  zone: Europe/Lisbon
  public_after: 3 weeks
  designs: {1: zorbel-quill, 2: zorbel-brock, 3: zorbel-shard, 9: zorbel-flume}
printers: [{name: bench, bed: [220, 220, 250], nozzle: 0.4}]
filaments: [{name: clay, material: PETG, colour: "#8a5a44", price_per_kg: 24.00}]
print: {layer: 0.2, line: 0.45, walls: 3, solid: {top: 5, bottom: 4}, infill: 15 %%, hole_allowance: 0.15}
channels:
  - {name: supporters, audience: early, to: "s3://early/season?endpoint=%[1]s&profile=early", rehearsal: true, links: 7 days}
  - {name: open-shelf, audience: public, to: "s3://shelf?endpoint=%[1]s&profile=shelf", url: "https://drops.example/", rehearsal: true}
  - {name: mirror, audience: public, to: "file:../mirror", rehearsal: true}
`, store))
	for i, c := range all {
		teaser := ""
		if c.titleFree {
			teaser = "teaser: title\n"
		}
		write("designs/zorbel-"+c.name+"/design.yaml", fmt.Sprintf("title: %s\nsummary: %s\n%schanges: [{revision: 1.0.0, date: 2027-01-05, text: %s}]\nstory: story.md\ncolours: {body: clay}\nparts: [{name: %s, colour: body, mesh: meshes/%s}]\nextras: [{file: %s, audience: early}, {file: notes.md}]\n",
			c.title, c.summary, teaser, c.note, c.part, c.mesh, c.extraName))
		write("designs/zorbel-"+c.name+"/story.md", c.story+" tells it.\n")
		write("designs/zorbel-"+c.name+"/notes.md", c.note+".\n")
		write("designs/zorbel-"+c.name+"/"+c.extraName, c.earlyText+",1\n")
		write("designs/zorbel-"+c.name+"/meshes/"+c.mesh, box(20, 12, float64(4+i)))
	}
	write("../.aws/credentials", "[early]\naws_access_key_id = AKIDEARLYEXAMPLE\naws_secret_access_key = supporters-secret\n[shelf]\naws_access_key_id = AKIDSHELFEXAMPLE\naws_secret_access_key = shelf-secret\n")
	return all
}

// box is a closed box in ASCII STL, outward normals.
func box(x, y, z float64) string {
	corner := func(i int) [3]float64 { return [3]float64{float64(i&1) * x, float64(i>>1&1) * y, float64(i>>2&1) * z} }
	var b strings.Builder
	b.WriteString("solid part\n")
	for _, f := range [][3]int{{0, 2, 1}, {1, 2, 3}, {4, 5, 6}, {5, 7, 6}, {0, 1, 4}, {1, 5, 4}, {2, 6, 3}, {3, 6, 7}, {0, 4, 2}, {2, 4, 6}, {1, 3, 5}, {3, 7, 5}} {
		b.WriteString("facet normal 0 0 0\nouter loop\n")
		for _, i := range f {
			c := corner(i)
			fmt.Fprintf(&b, "vertex %g %g %g\n", c[0], c[1], c[2])
		}
		b.WriteString("endloop\nendfacet\n")
	}
	b.WriteString("endsolid part\n")
	return b.String()
}

// readable is an object's bytes and, of an archive, its names and what they hold.
func readable(name string, data string) string {
	if !strings.HasSuffix(name, ".zip") {
		return name + "\n" + data
	}
	out := name + "\n"
	z, err := zip.NewReader(strings.NewReader(data), int64(len(data)))
	if err != nil {
		return out + data
	}
	for _, f := range z.File {
		out += f.Name + "\n"
		if r, err := f.Open(); err == nil {
			inner, _ := io.ReadAll(r)
			out += readable(f.Name, string(inner))
			r.Close()
		}
	}
	return out
}

// told names a word of a design that a text holds, "" if none.
func told(text string, c canary) string {
	text = strings.ToLower(text)
	for _, w := range c.words() {
		if strings.Contains(text, strings.ToLower(w)) {
			return w
		}
	}
	return ""
}

// Release test 11 through the program, with its real pages, feeds and calendars: at every moment everything that the
// public can read, names and insides of archives too, is looked through for the words of designs whose day has not
// come; so are the links and what the program says.
func TestCanaries(t *testing.T) {
	home := t.TempDir()
	dir := filepath.Join(home, "season")
	server := storetest.New(t, "early", "shelf")
	server.Owner("early", "AKIDEARLYEXAMPLE")
	server.Owner("shelf", "AKIDSHELFEXAMPLE")
	all := canarySeason(t, dir, server.URL)

	said := ""
	try := func(now string, args ...string) int {
		t.Helper()
		var out, errs bytes.Buffer
		at, err := time.Parse(time.RFC3339, now)
		if err != nil {
			t.Fatal(err)
		}
		code := run(env{ctx: t.Context(), args: args, stdin: strings.NewReader(""), stdout: &out, stderr: &errs, now: func() time.Time { return at },
			getenv: func(n string) string { return map[string]string{"HOME": home}[n] }, dir: dir})
		said = out.String() + errs.String()
		return code
	}
	do := func(now string, args ...string) {
		t.Helper()
		if code := try(now, append(args, "--now", now)...); code != exitDone {
			t.Fatalf("%v at %s: status %d\n%s", args, now, code, said)
		}
	}
	// open is what the public can read.
	open := func() string {
		var b strings.Builder
		for name, data := range server.Tree("shelf") {
			b.WriteString(readable(name, data))
		}
		err := filepath.WalkDir(filepath.Join(home, "mirror"), func(p string, e fs.DirEntry, err error) error {
			if err != nil || e.IsDir() {
				if os.IsNotExist(err) {
					return nil
				}
				return err
			}
			data, err := os.ReadFile(p)
			b.WriteString(readable(p, string(data)))
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	looked, leaks, linked := 0, 0, 0
	look := func(now string) {
		t.Helper()
		at, _ := time.Parse(time.RFC3339, now)
		public := open()
		for _, c := range all {
			if !at.Before(c.public) {
				continue
			}
			looked++
			if w := told(public, c); w != "" {
				i := strings.Index(strings.ToLower(public), strings.ToLower(w))
				t.Errorf("%s: the public reads %q of %s: …%.120q…", now, w, c.name, public[max(0, i-60):])
				leaks++
			}
			// The program may name a design to its maker, and tells nothing of what is in it.
			quiet := c
			quiet.name = "\x00"
			if w := told(said, quiet); w != "" {
				t.Errorf("%s: a message tells %q of %s:\n%s", now, w, c.name, said)
				leaks++
			}
		}
	}
	for day := time.Date(2027, 1, 7, 0, 0, 0, 0, time.UTC); day.Before(time.Date(2027, 3, 30, 0, 0, 0, 0, time.UTC)); day = day.AddDate(0, 0, 1) {
		if wd := day.Weekday(); wd != time.Friday && wd != time.Saturday {
			continue
		}
		for _, clock := range []string{"T16:59:59Z", "T17:00:00Z"} {
			now := day.Format("2006-01-02") + clock
			do(now, "release", "--due")
			look(now)
			// Links of the public's channel: to what is out there and nothing else.
			if code := try(now, "release", "links", "--audience", "public"); code != exitDone && code != exitRefused {
				t.Fatalf("links at %s: status %d\n%s", now, code, said)
			}
			linked += strings.Count(said, "X-Amz-Signature")
			at, _ := time.Parse(time.RFC3339, now)
			for _, c := range all {
				if w := told(said, c); at.Before(c.public) && w != "" {
					t.Errorf("%s: a link tells %q of %s", now, w, c.name)
				}
			}
			if t.Failed() {
				return
			}
		}
		if day.Format("2006-01-02") == "2027-01-30" { // a promised public day is moved: what it was is no longer its day
			do("2027-01-30T18:00:00Z", "schedule", "move", "zorbel-shard", "--public", "2027-02-19", "--because", "it is not ready")
			look("2027-01-30T18:00:00Z")
		}
	}
	// The watch can see: in the end every word is public, the early-only ones never, and the early store held all of them.
	public := open()
	for _, c := range all {
		for _, w := range []string{c.title, c.summary, c.part, c.story, c.note, "zorbel-" + c.name} {
			if !strings.Contains(public, w) {
				t.Errorf("%q of %s is not public in the end: the test shows nothing", w, c.name)
			}
		}
		for _, w := range []string{c.extraName, c.earlyText} {
			if strings.Contains(public, w) {
				t.Errorf("%q of %s was for the early audience alone", w, c.name)
			}
		}
	}
	// Both places of the public hold the same files, whatever they are made of.
	for name, data := range server.Tree("shelf") {
		if strings.Contains(name, "/1.0.0/") {
			mirrored, err := os.ReadFile(filepath.Join(home, "mirror", filepath.FromSlash(name)))
			if err != nil || string(mirrored) != data {
				t.Errorf("%s: the folder holds something else than the store: %v", name, err)
			}
		}
	}
	early := ""
	for name, data := range server.Tree("early") {
		early += readable(name, data)
	}
	for _, c := range all {
		if !strings.Contains(early, c.earlyText) || !strings.Contains(early, c.extraName) {
			t.Errorf("the early bundle of %s lacks its extra", c.name)
		}
	}
	if len(server.Tree("shelf")) < 20 || looked < 30 || linked < 30 {
		t.Errorf("%d public objects, looked %d times, %d links: the test shows nothing", len(server.Tree("shelf")), looked, linked)
	}
	planted := all[0]
	if told("the Brimtosk holds it. of next week", planted) == "" {
		t.Error("a planted word is not seen")
	}
	t.Logf("looked %d times for the words of a design under embargo, through %d public objects in the end; %d leaks", looked, len(server.Tree("shelf")), leaks)
}
