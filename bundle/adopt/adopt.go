package adopt

import (
	"cmp"
	"errors"
	"io/fs"
	"path"
	"slices"
	"strings"

	"dropwright/bundle/board"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
)

// Options says how a folder is read.
type Options struct {
	Name  string        // of the design, in kebab-case
	Date  design.Date   // of the first revision: today, or the folder's last commit
	Shown string        // the folder's path as findings show it
	House *design.House // of the series it goes into; nil: none, colours then keep the folder's own names
	// Ages is when a file was last changed, by the history, in seconds of any clock; a file that is not in it
	// has no history.
	Ages map[string]int64
	// States is how many states of a file the history holds.
	States  map[string]int
	Workers int // meshes measured at once; 0: one for each processor
	// Progress is called when a mesh is done; nil: not.
	Progress func(done, total int, file string)
	// Stop is asked between meshes; nil: go on to the end.
	Stop func() bool
}

func (o Options) stopped() bool { return o.Stop != nil && o.Stop() }

// colours are the names of the series' filaments.
func (o Options) colours() []string {
	if o.House == nil {
		return nil
	}
	return o.House.FilamentNames()
}

// ErrNothing means that the folder holds nothing to make a design of: no mesh that is read.
var ErrNothing = errors.New("no mesh in the folder: STL and 3MF are read")

// ErrStopped means that Options.Stop asked to.
var ErrStopped = errors.New("stopped")

// Read reads a folder and drafts a manifest from it. Links in fsys must not lead out of the folder (os.Root);
// none is followed. ErrNothing and ErrStopped are returned as such; any other error means that the machine
// failed.
func Read(fsys fs.FS, opt Options) (*Draft, error) {
	l, err := list(fsys)
	if err != nil {
		return nil, err
	}
	if len(l.of(meshFile)) == 0 {
		return nil, ErrNothing
	}
	r := &reader{fsys: fsys, opt: opt, list: &l}
	r.boards()
	r.texts = readTexts(fsys, r.list)
	r.solids = measureAll(fsys, r.list, opt)
	if opt.stopped() {
		return nil, ErrStopped
	}
	for _, f := range l.of(meshFile, sourceFile, toolpathFile) {
		if base := strings.ToLower(path.Base(f.path)); strings.ContainsAny(base, " '&,;!@=~") && len(r.spaced) < 500 {
			r.spaced = append(r.spaced, base)
		}
	}
	slices.SortFunc(r.spaced, func(a, b string) int { return cmp.Or(cmp.Compare(len(b), len(a)), cmp.Compare(a, b)) })
	r.entriesOf()
	r.group()
	if opt.stopped() {
		return nil, ErrStopped
	}
	r.seatBoards()
	r.describe()
	r.listItems()
	r.purchases()
	r.joints()
	r.steps()
	r.words()
	r.contradictions()
	return r.draft(), nil
}

// reader is one folder on its way to a draft.
type reader struct {
	fsys     fs.FS
	opt      Options
	list     *listing
	profiles []*board.Profile
	own      map[string]string // board profiles of the folder: id to file
	texts    []*text
	solids   []*solid
	spaced   []string // names of files with signs that no word has, lower case, the longest first

	entries  []*entry
	docs     []doc
	parts    []*part
	leftOut  []leftOut
	variants []*variant
	items    []*fastening // fasteners as listed
	found    []*joint     // joints as measured
	fastened []*fastener  // the proposal
	bought   []*purchase
	assembly []*step
	about    about
	findings []finding.Finding
	subjects [][]string              // beside findings: what each is about
	tried    map[string]*facts.Joint // joints worked out, by the text that says them
}

// doc is a text taken apart.
type doc struct {
	*text
	blocks []block
}

// boards reads the profiles: the built-in ones and those of the folder.
func (r *reader) boards() {
	r.own = map[string]string{}
	for _, id := range board.Builtin() {
		if p, err := board.Load(id); err == nil {
			r.profiles = append(r.profiles, p)
		}
	}
	for i, f := range r.list.of(profileFile) {
		if f.bytes > maxText || i >= 50 {
			continue
		}
		data, err := readUpTo(r.fsys, f.path, maxText)
		if err != nil {
			continue
		}
		p, found := board.Parse(f.path, data)
		if p == nil || finding.Count(found, finding.Error) > 0 || p.ID.S == "" || len(p.Mounts) == 0 {
			continue
		}
		r.own[p.ID.S] = f.path
		r.profiles = append(r.profiles, p)
	}
}

func (r *reader) profile(id string) *board.Profile {
	for _, p := range r.profiles {
		if p.ID.S == id {
			return p
		}
	}
	return nil
}
