package adopt

import (
	"cmp"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
)

// Limits of a folder. They bound the work that a hostile folder can ask for; a year of a maker's files stays
// far below (common practice, no source).
const (
	maxFiles    = 20_000    // entries looked at
	maxDepth    = 12        // folders below the one adopted
	maxMeshes   = 2_000     // meshes measured
	maxBytes    = 4 << 30   // of all meshes together
	maxFacets   = 8_000_000 // of the meshes that are searched for holes
	maxLines    = 5_000     // lines of lists
	maxItems    = 300       // fasteners in lists
	maxCompared = 2_000_000 // names looked for in sentences
	maxHoles    = 600       // of one part, for joints with others: beyond are perforated plates
	maxText     = 1 << 20   // of one text
	maxTexts    = 300       // texts read
	maxProse    = 16 << 20  // of all texts together
)

// kind is what a file is for.
type kind int

const (
	otherFile kind = iota
	meshFile
	toolpathFile
	sourceFile // CAD
	photoFile
	proseFile // Markdown, text, HTML
	tableFile // CSV, tab-separated
	licenceFile
	codeFile
	profileFile // YAML that may be a board profile
	unreadFile  // of a kind that holds what we look for, in a form that is not read
)

// endings are the kinds by the ending of the name, lower case.
var endings = map[string]kind{
	".stl": meshFile, ".3mf": meshFile,
	".gcode": toolpathFile, ".gco": toolpathFile, ".nc": toolpathFile,
	".scad": sourceFile, ".step": sourceFile, ".stp": sourceFile, ".f3d": sourceFile, ".f3z": sourceFile, ".fcstd": sourceFile, ".iges": sourceFile,
	".igs": sourceFile, ".dxf": sourceFile, ".blend": sourceFile, ".skp": sourceFile, ".sldprt": sourceFile, ".sldasm": sourceFile, ".ipt": sourceFile, ".iam": sourceFile,
	".jpg": photoFile, ".jpeg": photoFile, ".png": photoFile,
	".md": proseFile, ".markdown": proseFile, ".mdown": proseFile, ".txt": proseFile, ".text": proseFile, ".rst": proseFile, ".html": proseFile, ".htm": proseFile, ".adoc": proseFile, ".org": proseFile,
	".csv": tableFile, ".tsv": tableFile, ".tab": tableFile,
	".ino": codeFile, ".h": codeFile, ".hpp": codeFile, ".c": codeFile, ".cpp": codeFile, ".py": codeFile, ".rs": codeFile, ".js": codeFile, ".lua": codeFile,
	".yaml": profileFile, ".yml": profileFile,
	".obj": unreadFile, ".amf": unreadFile, ".ply": unreadFile, ".xlsx": unreadFile, ".xls": unreadFile, ".ods": unreadFile, ".docx": unreadFile, ".doc": unreadFile, ".odt": unreadFile, ".pdf": unreadFile,
	".heic": unreadFile, ".webp": unreadFile, ".tif": unreadFile, ".tiff": unreadFile, ".zip": unreadFile, ".7z": unreadFile, ".rar": unreadFile,
}

// kindOf goes by the name.
func kindOf(name string) kind {
	base := strings.ToLower(path.Base(name))
	ext := path.Ext(base)
	stem := strings.TrimSuffix(base, ext)
	if k := endings[ext]; k == otherFile || k == proseFile {
		for _, w := range []string{"license", "licence", "copying", "unlicense"} {
			if stem == w || strings.HasPrefix(stem, w+"-") || strings.HasPrefix(stem, w+"_") || strings.HasPrefix(stem, w+".") || base == w {
				return licenceFile
			}
		}
		if strings.HasPrefix(strings.ToLower(path.Dir(name))+"/", "licenses/") && k == proseFile {
			return licenceFile
		}
	}
	if ext == "" && (base == "readme" || base == "bom" || base == "parts" || base == "build" || base == "instructions" || base == "assembly") {
		return proseFile
	}
	return endings[ext]
}

// file is one file of the folder.
type file struct {
	path  string
	kind  kind
	bytes int64
}

// listing is what lies in a folder.
type listing struct {
	files []file // sorted by path
	notes []string
}

// skippedFolders hold what programs keep there, not designs.
func skippedFolder(name string) bool {
	return strings.HasPrefix(name, ".") || name == "__MACOSX" || name == "node_modules" || name == "__pycache__"
}

// list walks the folder. It follows no link, looks into no hidden folder, and stops at the limits, each of
// which it notes.
func list(fsys fs.FS) (listing, error) {
	var out listing
	var links, deep, odd int
	seen := 0
	var walk func(dir string, depth int) error
	walk = func(dir string, depth int) error {
		entries, err := readDir(fsys, dir, maxFiles-seen+1)
		if err != nil {
			if dir == "." {
				return err
			}
			out.notes = append(out.notes, fmt.Sprintf("%s could not be looked into", dir))
			return nil
		}
		for _, e := range entries {
			if seen++; seen > maxFiles {
				return nil
			}
			name := path.Join(dir, e.Name())
			switch {
			case e.Type()&fs.ModeSymlink != 0:
				links++
			case e.IsDir():
				if skippedFolder(e.Name()) {
					continue
				}
				if depth >= maxDepth {
					deep++
					continue
				}
				if err := walk(name, depth+1); err != nil {
					return err
				}
			case !e.Type().IsRegular():
				odd++
			case strings.HasPrefix(e.Name(), "."), name == "design.yaml": // a draft of an earlier run says nothing of the folder
			case !manifestPath(name):
				odd++
			default:
				info, err := e.Info()
				if err != nil {
					continue // it went meanwhile
				}
				out.files = append(out.files, file{name, kindOf(name), info.Size()})
			}
		}
		return nil
	}
	if err := walk(".", 0); err != nil {
		return out, err
	}
	for _, n := range []struct {
		n    int
		text string
	}{{links, "%d links were not followed: copy what they lead to into the folder"}, {deep, "%d folders lie deeper than " + fmt.Sprint(maxDepth) + " levels and were not looked into"},
		{odd, "%d entries are no plain files, or have names that no manifest can hold, and were left out"}, {max(0, seen-maxFiles), "more than " + fmt.Sprint(maxFiles) + " entries: the rest (%d and more) was not looked at"}} {
		if n.n > 0 {
			out.notes = append(out.notes, fmt.Sprintf(n.text, n.n))
		}
	}
	slices.SortFunc(out.files, func(a, b file) int { return cmp.Compare(a.path, b.path) })
	return out, nil
}

// readDir lists a folder sorted by name, at most limit entries of it: a folder of a million names must not
// fill the memory first.
func readDir(fsys fs.FS, dir string, limit int) ([]fs.DirEntry, error) {
	if limit <= 0 {
		return nil, nil
	}
	f, err := fsys.Open(dir)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	d, ok := f.(fs.ReadDirFile)
	if !ok {
		return fs.ReadDir(fsys, dir)
	}
	entries, err := d.ReadDir(maxFiles + 1)
	if err == io.EOF {
		err = nil
	}
	slices.SortFunc(entries, func(a, b fs.DirEntry) int { return cmp.Compare(a.Name(), b.Name()) })
	return entries[:min(len(entries), limit)], err
}

// manifestPath reports whether a manifest can name the file: see design.Path.
func manifestPath(name string) bool {
	return len(name) <= 240 && name == strings.TrimSpace(name) && !strings.Contains(name, `\`) && !strings.ContainsFunc(name, func(r rune) bool { return r < 32 || r == 127 || r == '\uFFFD' }) && !(len(name) > 1 && name[1] == ':') && !strings.HasPrefix(name, "~")
}

// of returns the files of some kinds.
func (l listing) of(kinds ...kind) []file {
	var out []file
	for _, f := range l.files {
		if slices.Contains(kinds, f.kind) {
			out = append(out, f)
		}
	}
	return out
}
