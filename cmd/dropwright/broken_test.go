package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"dropwright/bundle/finding"
)

// broken is what check must find in each folder of examples/broken/designs: code, line and column, nothing
// else. A folder that is missing here, or that gives one finding more, fails: false alarms are failures.
var broken = map[string][]string{
	"clean":              nil,
	"clean-box":          nil,
	"clean-toolpath":     nil,
	"bed-small":          {"bed-small 8:38"},
	"colour-missing":     {"colour-missing 8:5"},
	"count-over":         {"count-over 11:43"},
	"count-short":        {"count-short 11:43"},
	"filament-missing":   {"filament-missing 6:11"},
	"file-missing":       {"file-missing 8:61"},
	"item-unused":        {"item-unused 11:12"},
	"key-misspelt":       {"key-unknown 6:1"},
	"key-twice":          {"key-twice 6:1"},
	"licence-missing":    {"licence-missing 7:12"},
	"licence-spelling":   {"licence-spelling 4:10"},
	"licence-unknown":    {"licence-unknown 4:10"},
	"many":               {"file-missing 8:105", "file-missing 8:117", "file-missing 8:129", "file-missing 8:141", "file-missing 8:153", "file-missing 8:165", "file-missing 8:177", "file-missing 8:189", "file-missing 8:201", "file-missing 8:213", "file-missing 8:81", "file-missing 8:93"},
	"mesh-cut":           {"mesh-unreadable 8:38"},
	"mesh-empty":         {"mesh-empty 8:38"},
	"mesh-missing":       {"mesh-missing 8:38"},
	"mesh-no-variant":    {"mesh-missing 10:37"},
	"mesh-open":          {"mesh-open 8:38"},
	"mesh-pointer":       {"mesh-unreadable 8:38"},
	"name-board":         {"name-unknown 6:30"},
	"name-fastener":      {"name-unknown 13:65"},
	"name-filament":      {"name-unknown 6:17"},
	"name-part":          {"name-unknown 11:56"},
	"name-twice":         {"name-twice 9:12"},
	"name-variant":       {"name-unknown 8:62"},
	"path-outside":       {"path-outside 8:38"},
	"photo-cut":          {"photo-unreadable 9:17"},
	"photo-missing":      {"photo-missing 8:12"},
	"photo-no-alt":       {"alt-missing 9:10"},
	"print-missing":      {"print-missing 8:5"},
	"quote-curly":        {"quote-curly 1:8"},
	"revision-malformed": {"revision-malformed 3:22"},
	"revision-order":     {"revision-order 4:16"},
	"step-bare":          {"step-bare 13:5"},
	"steps-missing":      {"steps-missing 11:12"},
	"story-missing":      {"story-missing 2:10"},
	"text-latin":         {"text-unreadable 2:28"},
	"text-tab":           {"text-unreadable 7:1"},
	"toolpath-cut":       {"toolpath-cut 8:84"},
	"toolpath-layers":    {"toolpath-layers 8:84"},
	"toolpath-other":     {"toolpath-other 8:84"},
	"toolpath-odd":       {"toolpath-unreadable 8:84"},
	"use-as-is":          {"use-as-is 10:20"},
	"used-as-is":         {"used as is: photo-missing"},
	"value-empty":        {"value-missing 1:1"},
	"value-kind":         {"name-unknown 8:26", "value-wrong 6:10"},
	"value-missing":      {"value-missing 1:1"},
	"value-range":        {"value-wrong 8:80"},
	"value-unit":         {"value-wrong 8:80"},
	"yaml-anchor":        {"yaml-feature 6:17"},
	"board-blocked":      {"board-blocked 7:54"},
	"board-close":        {"board-close 7:54"},
	"clean-board":        nil,
	"clean-fan":          nil,
	"clean-wired":        nil,
	"fan-covered":        {"fan-covered 10:12"},
	"fan-pitch":          {"fan-pitch 10:12"},
	"header-covered":     {"header-covered 7:54"},
	"headroom-short":     {"headroom-short 7:54"},
	"keepout-filled":     {"keepout-filled 7:54"},
	"lead-crossed":       {"lead-crossed 16:28"},
	"lead-loose":         {"lead-loose 12:77"},
	"lithium-present":    {"lithium-present 12:58"},
	"mains-present":      {"mains-present 12:50"},
	"mount-missed":       {"mount-missed 7:54"},
	"pin-differs":        {"pin-differs 18:30"},
	"pin-shared":         {"pin-shared 19:28"},
	"pin-signal":         {"pin-signal 16:28"},
	"pin-unknown":        {"pin-unknown 16:28"},
	"plugs-crowded":      {"plugs-crowded 7:54"},
	"port-blocked":       {"port-blocked 7:54"},
	"port-covered":       {"port-covered 7:54"},
	"port-other":         {"port-other 7:54"},
	"port-tight":         {"port-tight 7:54"},
	"profile-key":        {"key-unknown 5:1"},
	"rail-overloaded":    {"rail-overloaded 16:28"},
	"seat-ambiguous":     {"seat-ambiguous 7:54"},
	"seat-mirrored":      {"seat-mirrored 7:54"},
	"seat-missing":       {"seat-missing 7:54"},
	"seat-off":           {"seat-off 7:66"},
	"underside-short":    {"underside-short 7:54"},
	"volts-low":          {"volts-low 16:14"},
	"volts-outside":      {"volts-outside 16:14"},
}

func testApp(t *testing.T, series string) *app {
	t.Helper()
	e := env{ctx: context.Background(), stdin: strings.NewReader(""), stdout: io.Discard, stderr: io.Discard, getenv: func(string) string { return "" },
		now: func() time.Time { return time.Date(2027, 1, 20, 9, 0, 0, 0, time.UTC) }, dir: t.TempDir()}
	a := &app{env: e, series: series, format: "json"}
	a.ui = newUI(e, true, "never")
	return a
}

func TestBrokenExamples(t *testing.T) {
	a := testApp(t, filepath.Join(repository(t), "examples", "broken"))
	s, err := a.openSeries()
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	s.fixed = brokenPast
	if len(s.Findings) != 0 {
		t.Fatalf("the series itself is broken: %v", s.Findings)
	}
	seen := map[string]bool{}
	for _, name := range s.Names {
		t.Run(name, func(t *testing.T) {
			want, ok := broken[name]
			if !ok {
				t.Error("the table has no row for this folder")
			}
			shown := texts{}
			c, err := a.checkOne(s, name, "", shown)
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, f := range c.list {
				got = append(got, fmt.Sprintf("%s %d:%d", f.Code, f.At.Line, f.At.Column))
				seen[f.Code] = true
				if f.Hint == "" || f.Text == "" || f.At.File == "" {
					t.Errorf("%s: a finding needs a text, a place and a hint: %+v", f.Code, f)
				}
				if f.At.Line <= 1 && f.At.Column <= 1 && f.Code != "value-missing" { // what the whole file lacks stands nowhere
					t.Errorf("%s points at the file, not at its cause", f.Code)
				}
				if text := shown[f.At.File]; text != nil && f.At.Column > len(text.Line(f.At.Line))+1 {
					t.Errorf("%s points behind its line: %v", f.Code, f.At)
				}
			}
			for _, u := range c.UsedAsIs {
				got = append(got, "used as is: "+u.Code)
			}
			slices.Sort(got)
			if !slices.Equal(got, want) {
				t.Errorf("found %q, want %q", got, want)
				for _, f := range c.list {
					t.Logf("%s: %s | %s", f.At, f.Text, f.Hint)
				}
			}
		})
	}
	for name := range broken {
		if !s.Has(name) {
			t.Errorf("the table names %s, which is no folder", name)
		}
	}
	for _, c := range finding.Codes() {
		if !seen[c.Name] && (!elsewhere[c.Name] || !scripted(t, c.Name)) {
			t.Errorf("no broken example shows %s", c.Name)
		}
	}
}

// scripted reports whether a script of testdata/script speaks of a code.
func scripted(t *testing.T, code string) bool {
	scripts, err := filepath.Glob(filepath.Join("testdata", "script", "*.txtar"))
	if err != nil || len(scripts) == 0 {
		t.Fatalf("no scripts: %v", err)
	}
	for _, s := range scripts {
		data, err := os.ReadFile(s)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(string(data), code) {
			return true
		}
	}
	return false
}

// elsewhere are codes whose example needs more than a folder, which a script makes: a history, two files that
// differ in capitals only, a series with a maker of its own.
var elsewhere = map[string]bool{"revision-old": true, "revision-same": true, "name-case": true, "placeholder-left": true, "accent-faint": true}
