package sheet

// Sheet is the assembly sheet of one variant: what the printers print.
type Sheet struct {
	Design       string    `json:"design"` // the design's name
	Title        string    `json:"title"`
	Summary      string    `json:"summary"`
	Revision     string    `json:"revision"`
	Date         string    `json:"date"`    // of the revision, 2027-01-20
	Dated        string    `json:"dated"`   // the same in the language's habit
	Variant      string    `json:"variant"` // its name
	VariantTitle string    `json:"variant_title,omitempty"`
	Audience     string    `json:"audience"`
	Builds       int       `json:"builds"`
	Licence      string    `json:"licence,omitempty"`
	Maker        string    `json:"maker"`
	MakerURL     string    `json:"maker_url,omitempty"`
	Content      string    `json:"content,omitempty"` // short hash of the content, for the foot of the page
	Language     string    `json:"language"`          // BCP 47
	Accent       string    `json:"accent"`            // #rrggbb
	Logo         string    `json:"logo,omitempty"`    // path of a picture
	Page         string    `json:"page,omitempty"`    // address of the design's page
	Code         []string  `json:"code,omitempty"`    // the same as a square code: rows of # and blanks, without the quiet zone
	Head         []Block   `json:"head"`              // below the title, before the first section
	Sections     []Section `json:"sections"`
	Counts       []Count   `json:"counts"` // every count that the sheet states, for tests against the bill and the tally
}

// Section is one part of the sheet with a heading of its own.
type Section struct {
	ID     string  `json:"id"` // anchor, unique in the sheet
	Title  string  `json:"title"`
	Blocks []Block `json:"blocks"`
}

// Kind says what a block is; its comment names the fields that count.
type Kind string

// The kinds of blocks.
const (
	Para     Kind = "para"     // Spans
	Small    Kind = "small"    // Spans, a remark
	Heading  Kind = "heading"  // Spans, Level (3 to 6)
	List     Kind = "list"     // Items, Ordered
	Checks   Kind = "checks"   // Items, each with a box to tick
	Code     Kind = "code"     // Text
	Quote    Kind = "quote"    // Blocks
	Grid     Kind = "table"    // Table
	Pictures Kind = "pictures" // Pictures, Small
	Plan     Kind = "drawing"  // Drawing
	Warnings Kind = "cautions" // Cautions
	Pairs    Kind = "pairs"    // Pairs
	Group    Kind = "group"    // ID, Title, Blocks: a step; stays on one page where it fits
	Links    Kind = "contents" // Contents
)

// Block is one thing on the sheet.
type Block struct {
	Kind     Kind      `json:"kind"`
	ID       string    `json:"id,omitempty"`
	Title    string    `json:"title,omitempty"`
	Level    int       `json:"level,omitempty"`
	Ordered  bool      `json:"ordered,omitempty"`
	Text     string    `json:"text,omitempty"`
	Spans    []Span    `json:"spans,omitempty"`
	Items    [][]Block `json:"items,omitempty"`
	Blocks   []Block   `json:"blocks,omitempty"`
	Table    *Table    `json:"table,omitempty"`
	Pictures []Picture `json:"pictures,omitempty"`
	Small    bool      `json:"small,omitempty"` // pictures: small, several beside one another
	Large    bool      `json:"large,omitempty"` // pictures: one as wide as the page, the cover
	Drawing  *Drawing  `json:"drawing,omitempty"`
	Cautions []Caution `json:"cautions,omitempty"`
	Pairs    []Pair    `json:"pairs,omitempty"`
	Contents []Anchor  `json:"contents,omitempty"`
}

// Span is a run of text.
type Span struct {
	Text   string `json:"text"`
	Strong bool   `json:"strong,omitempty"`
	Em     bool   `json:"em,omitempty"`
	Code   bool   `json:"code,omitempty"`
	Break  bool   `json:"break,omitempty"`  // a line break after the text
	Href   string `json:"href,omitempty"`   // https, http, #anchor, or a path relative to the sheet
	Swatch string `json:"swatch,omitempty"` // #rrggbb, drawn before the text
}

// Pair is a term and what is said of it.
type Pair struct {
	Term  string `json:"term"`
	Spans []Span `json:"spans"`
}

// Anchor is one line of the contents.
type Anchor struct {
	ID    string `json:"id"`
	Title string `json:"title"`
}

// Table is a table whose first column names the row.
type Table struct {
	Caption string   `json:"caption"`
	Columns []Column `json:"columns"`
	Rows    []Row    `json:"rows"`
}

// Column is one column of a table.
type Column struct {
	Title string  `json:"title"`
	Right bool    `json:"right,omitempty"` // figures: set to the right
	Share float64 `json:"share"`           // of the width in the PDF, relative to the others
}

// Row is one row of a table.
type Row struct {
	Total bool   `json:"total,omitempty"` // a sum at the end
	Cells []Cell `json:"cells"`
}

// Cell is one cell of a table.
type Cell struct {
	Spans   []Span `json:"spans"`
	Note    string `json:"note,omitempty"`    // a second, smaller line
	Picture string `json:"picture,omitempty"` // path of a small picture above the text; the text says what it is
}

// Picture is a picture with its alternative text.
type Picture struct {
	File    string `json:"file"`
	Alt     string `json:"alt"`
	Caption string `json:"caption,omitempty"`
}

// Caution is one warning. Signal is the signal word's key: danger, warning, caution, notice.
type Caution struct {
	Key    string `json:"key"` // what it warns of: hot, fumes, …
	Signal string `json:"signal"`
	Word   string `json:"word"` // the signal word in the language
	Text   string `json:"text"`
	Where  string `json:"where,omitempty"` // where it applies
}

// Count is one count that the sheet states.
type Count struct {
	Section string  `json:"section"` // "print", "fastener", "bought", "step"
	Name    string  `json:"name"`    // as the bill or the tally names it
	Count   float64 `json:"count"`
}
