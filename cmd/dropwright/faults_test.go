package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"dropwright/bundle/finding"
)

var update = flag.Bool("update", false, "write generated parts of documents anew")

// fault is one row of a list of faults that builders found in published designs, in our words. why says how a
// row without a code is answered, or why it cannot be.
type fault struct{ text, why string }

// faults are the rows 1 to 94 in order. Codes name the rows they answer; the rest is said here.
var faultRows = []fault{
	{text: "one sub-assembly takes more screws than the whole list holds"},
	{text: "two listed, three used"},
	{text: "eight sizes of screw wrong at once, in both directions"},
	{text: "too few inserts and screws for the holes that are there"},
	{text: "list overstated"},
	{text: "a count off by one, one type of screw absent altogether"},
	{text: "list short by one, and the step's own count wrong too"},
	{text: "insert count wrong with and without an option"},
	{text: "counts do not add up when it is mounted another way"},
	{text: "a step asks for six and uses four"},
	{text: "called out in an early step, used much later, or called out twice"},
	{text: "a group of parts is missing from the list"},
	{text: "the master list is shorter than the lists of the steps", why: "there is one list: steps can only use what it holds (`name-unknown`, `count-short`)"},
	{text: "twelve needed, eight listed and supplied"},
	{text: "number of bushings wrong"},
	{text: "inserts needed and not listed, the screws too short"},
	{text: "listed, used in no step, the step missing"},
	{text: "used, not in the list"},
	{text: "packs of five read as pieces"},
	{text: "the screw is shorter than what it must pass"},
	{text: "a 6 mm screw through a flange of more than 6"},
	{text: "two screws meet in one standoff"},
	{text: "the label names one length, the model has another", why: "a label's text in a mesh cannot be read"},
	{text: "some parts need 12, some 14, nowhere said which"},
	{text: "the guide says 8 mm, the list 10"},
	{text: "12 on one page, 10 on another"},
	{text: "sizes of the published order too long, too short"},
	{text: "an insert without outer diameter and length"},
	{text: "the hole's size printed as the insert's"},
	{text: "screws not documented at all"},
	{text: "three formats of one list disagree"},
	{text: "magnet size in the wrong order, or without size"},
	{text: "one size in the list, another in the guide"},
	{text: "lengths that nobody sells"},
	{text: "parts used in steps and list are not published"},
	{text: "a part named in the guide does not exist"},
	{text: "parts missing from the zip"},
	{text: "a jig shown in the guide has no file"},
	{text: "the archive lacks files that the repository has"},
	{text: "the list names a source that is not there"},
	{text: "the other side of a pair is missing"},
	{text: "the table shows one half, the picture two"},
	{text: "links in the guide broken"},
	{text: "files are pointers of large-file storage"},
	{text: "two names, one content"},
	{text: "the right-hand file is the left one"},
	{text: "the file of another thing"},
	{text: "files with and without an option are the same"},
	{text: "every file twice, .stl and .STL"},
	{text: "an update overwrote one part with another"},
	{text: "mesh and source differ"},
	{text: "the names left and right are swapped", why: "nothing in a mesh says which side is left"},
	{text: "a bearing left inside the part"},
	{text: "exported in inches"},
	{text: "exported in centimetres"},
	{text: "insert holes too narrow"},
	{text: "insert holes as wide as the insert"},
	{text: "holes of several sizes for one insert"},
	{text: "four holes smaller than the thread's root"},
	{text: "clearance holes drawn with too few sides"},
	{text: "holes so wide that the screws drop in"},
	{text: "the head is larger than its sink"},
	{text: "a nut pocket too narrow, or so wide that the nut turns"},
	{text: "mating parts drawn without clearance"},
	{text: "a case made for another revision of the board"},
	{text: "an opening off because the socket is on the other face"},
	{text: "posts not where the board's holes are"},
	{text: "no layer height, infill, walls, material"},
	{text: "two contradictory sets of settings"},
	{text: "copies not stated, the mirrored one not said"},
	{text: "colour of each part or filament by colour not given"},
	{text: "exported as assembled, must be turned"},
	{text: "features of the bottom not level with it"},
	{text: "edges with faces missing or doubled"},
	{text: "a floating piece, or several parts in one file"},
	{text: "a wall too thin"},
	{text: "names in list, guide and files differ"},
	{text: "one number on two parts"},
	{text: "files named by number only"},
	{text: "order impossible, or an item put in too early"},
	{text: "a step is missing, or another is assumed done"},
	{text: "no instructions"},
	{text: "pictures show an older state"},
	{text: "drawing and firmware use different pins"},
	{text: "polarity or view not given"},
	{text: "no licence for the models, or for the code only"},
	{text: "licence contradicted by a condition, or two licences"},
	{text: "a remix without the licence or credit of its source"},
	{text: "may I sell prints?"},
	{text: "which files changed, must I print again?"},
	{text: "no versions on files"},
	{text: "does not fit common beds"},
	{text: "photos with a position"},
	{text: "3MF with paths of a machine"},
}

// faultTable is the table of DEVELOPERS.md: each row with the codes that answer it.
func faultTable() string {
	by := map[int][]string{}
	for _, c := range finding.Codes() {
		for _, n := range c.Rows {
			by[n] = append(by[n], "`"+c.Name+"`")
		}
	}
	var b strings.Builder
	b.WriteString("| row | what builders found | codes that catch it |\n| --- | --- | --- |\n")
	for i, f := range faultRows {
		codes := by[i+1]
		slices.Sort(codes)
		say := strings.Join(codes, ", ")
		switch {
		case say == "" && f.why == "":
			say = "not yet"
		case say == "":
			say = "not computable, because " + f.why
			if !strings.HasPrefix(f.why, "n") {
				say = "no code: " + f.why
			}
		}
		fmt.Fprintf(&b, "| %d | %s | %s |\n", i+1, f.text, say)
	}
	return b.String()
}

const faultsBegin, faultsEnd = "<!-- faults:begin -->\n", "<!-- faults:end -->"

// TestFaultTable: DEVELOPERS.md holds the table as the codes now make it. go test ./cmd/dropwright -run
// FaultTable -update writes it anew.
func TestFaultTable(t *testing.T) {
	if len(faultRows) != 94 {
		t.Fatalf("%d rows, want 94", len(faultRows))
	}
	for _, c := range finding.Codes() {
		for _, n := range c.Rows {
			if n < 1 || n > len(faultRows) {
				t.Errorf("%s names the row %d, which is none", c.Name, n)
			}
		}
	}
	path := filepath.Join(repository(t), "DEVELOPERS.md")
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	before, rest, ok := strings.Cut(string(data), faultsBegin)
	had, after, ok2 := strings.Cut(rest, faultsEnd)
	if !ok || !ok2 {
		t.Fatalf("DEVELOPERS.md lacks the marks %q and %q", strings.TrimSpace(faultsBegin), faultsEnd)
	}
	want := faultTable()
	if had == want {
		return
	}
	if !*update {
		t.Fatal("the table of faults in DEVELOPERS.md is out of date: go test ./cmd/dropwright -run FaultTable -update")
	}
	if err := os.WriteFile(path, []byte(before+faultsBegin+want+faultsEnd+after), 0o666); err != nil {
		t.Fatal(err)
	}
}
