// Package catalogue reads a series' folder: its series.yaml and the manifests of all its designs. It measures
// nothing; what it gives is text turned into values, with findings.
package catalogue

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/manifest"
	"dropwright/bundle/source"
	"dropwright/series/config"
)

// File names of a series' folder.
const (
	SeriesFile = "series.yaml"
	DesignFile = "design.yaml"
	DesignsDir = "designs"
)

// ErrNoSeries means that the folder holds no series.yaml.
var ErrNoSeries = errors.New("no series.yaml here")

// Series is an opened series.
type Series struct {
	FS       fs.FS  // the folder
	Shown    string // its path as shown to the user, slash-separated, "." for the working folder
	Config   *config.Series
	Text     *source.Text
	Findings []finding.Finding
	Names    []string // of the design folders, sorted
	boards   []string
}

// Entry is one design of a series, read.
type Entry struct {
	Name     string
	Week     int   // 0: none
	FS       fs.FS // its folder
	Manifest []byte
	Design   *design.Design // nil when the manifest cannot be read
	Text     *source.Text
	Findings []finding.Finding
}

// Open reads series.yaml and lists the designs. fsys must not let links lead out of the folder (os.Root).
// shown is the folder's path for messages; boards are the ids of the built-in board profiles. Config is nil
// when series.yaml cannot be read at all; Findings say why.
func Open(fsys fs.FS, shown string, boards []string) (*Series, error) {
	s := &Series{FS: fsys, Shown: shown, boards: boards}
	data, err := fs.ReadFile(fsys, SeriesFile)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, ErrNoSeries
	}
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", s.path(SeriesFile), err)
	}
	s.Config, s.Text, s.Findings = config.Decode(s.path(SeriesFile), data)
	if s.Config != nil && s.Config.Logo.Set() {
		if st, err := fs.Stat(fsys, string(s.Config.Logo.V)); err != nil || !st.Mode().IsRegular() {
			s.Findings = append(s.Findings, finding.New("file-missing", s.Config.Logo.At, fmt.Sprintf("the logo %s is not in the series' folder", s.Config.Logo.V), "add the file, a PNG or JPEG, or remove the line"))
		}
	}
	dirs, err := fs.ReadDir(fsys, DesignsDir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("reading %s: %w", s.path(DesignsDir), err)
	}
	for _, d := range dirs {
		if !d.IsDir() {
			continue
		}
		if _, err := fs.Lstat(fsys, path.Join(DesignsDir, d.Name(), DesignFile)); err == nil {
			s.Names = append(s.Names, d.Name())
		}
	}
	slices.Sort(s.Names)
	return s, nil
}

// path is a file's path as shown to the user.
func (s *Series) path(inside string) string { return path.Join(s.Shown, inside) }

// Path is the path of a design's file as shown to the user.
func (s *Series) Path(name, file string) string {
	return s.path(path.Join(DesignsDir, name, file))
}

// Has reports whether there is a design of the name.
func (s *Series) Has(name string) bool {
	_, ok := slices.BinarySearch(s.Names, name)
	return ok
}

// Context is what the series lets a manifest refer to.
func (s *Series) Context() manifest.Context {
	c := manifest.Context{Boards: s.boards}
	if s.Config != nil {
		c.Filaments = s.Config.FilamentNames()
		for _, a := range s.Config.Audiences {
			c.Audiences = append(c.Audiences, string(a.Name.V))
		}
	}
	return c
}

// Load reads one design. A manifest that cannot be read gives an Entry with findings and no design; an error
// means that the machine failed.
func (s *Series) Load(name string) (*Entry, error) {
	sub, err := fs.Sub(s.FS, path.Join(DesignsDir, name))
	if err != nil {
		return nil, err
	}
	return s.LoadFrom(sub, name)
}

// LoadFrom reads a design from a folder of its own, as history gives it.
func (s *Series) LoadFrom(sub fs.FS, name string) (*Entry, error) {
	shown := s.Path(name, DesignFile)
	e := &Entry{Name: name, FS: sub}
	if s.Config != nil {
		e.Week = s.Config.WeekOf(name)
	}
	st, err := fs.Stat(sub, DesignFile)
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", shown, err)
	}
	if st.Size() > source.MaxBytes {
		e.Findings = append(e.Findings, finding.New("text-unreadable", finding.Place{File: shown, Line: 1, Column: 1},
			fmt.Sprintf("the file holds %d bytes, the limit is %d", st.Size(), source.MaxBytes), "a manifest is text written by a person; move data into files of their own and name them"))
		e.Text = source.NewText(shown, nil)
		return e, nil
	}
	e.Manifest, err = fs.ReadFile(sub, DesignFile)
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", shown, err)
	}
	e.Design, e.Text, e.Findings = manifest.Decode(name, shown, e.Manifest, s.Context())
	if design.Kebab(name) != name {
		e.Findings = append(e.Findings, finding.New("value-wrong", finding.Place{File: shown, Line: 1, Column: 1},
			fmt.Sprintf("the folder %q is not a name of lower-case letters, digits and hyphens", name), "rename the folder to "+design.Kebab(name)))
	}
	return e, nil
}

// Ideas returns the names that the calendar gives a week and that have no folder yet, by week.
func (s *Series) Ideas() []config.WeekEntry {
	var out []config.WeekEntry
	if s.Config == nil {
		return nil
	}
	for _, w := range s.Config.Calendar.Designs {
		if !s.Has(string(w.Design.V)) {
			out = append(out, w)
		}
	}
	return out
}
