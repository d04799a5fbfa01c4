package outlook

import (
	"time"

	"dropwright/series/schedule"
)

// Season is the view over all weeks. It prints as JSON, and pages are built from it.
type Season struct {
	Series   string    `json:"series"`
	Title    string    `json:"title"`
	Zone     string    `json:"zone"`
	Currency string    `json:"currency,omitempty"`
	Now      time.Time `json:"now"`
	Week     int       `json:"week"` // the present one; 0 before the season, the last one after it
	Plan     Plan      `json:"plan"`
	Weeks    []Week    `json:"weeks"`
	// Waiting are designs with a folder that no week has.
	Waiting  []Week    `json:"waiting,omitempty"`
	Reserve  Reserve   `json:"reserve"`
	Odds     Odds      `json:"odds"`
	Printers []Printer `json:"printers"`
	Queue    Queue     `json:"queue"`
	Stock    Shelf     `json:"stock"`
	Ideas    []Idea    `json:"ideas"`
	Reports  []Report  `json:"reports"`         // open ones
	Notes    []string  `json:"notes,omitempty"` // what could not be worked out, and why
}

// Plan is what the maker means to do for each design: series.yaml under plan, or the defaults.
type Plan struct {
	Trials   int        `json:"trials"`        // test prints of each part until it is accepted
	Builds   int        `json:"builds"`        // finished builds of each variant for the maker's own use
	Buffer   int        `json:"buffer_days"`   // days between finishing a design and its early drop
	Delivery int        `json:"delivery_days"` // from ordering a thing to having it
	Days     [3]float64 `json:"days"`          // least, likeliest and most days a design takes: the prior
	Stated   bool       `json:"stated"`        // series.yaml says any of it
}

// Week is one week, or a design without one (Week 0).
type Week struct {
	Week     int               `json:"week"`
	Design   string            `json:"design,omitempty"` // "" for a free week
	Title    string            `json:"title,omitempty"`
	Revision string            `json:"revision,omitempty"`
	Early    time.Time         `json:"early,omitzero"`
	Public   time.Time         `json:"public,omitzero"`
	State    schedule.Standing `json:"state"`
	Why      string            `json:"why,omitempty"`
	Notes    []string          `json:"notes,omitempty"`
	// Reached are the states it went through, in their order, each with its day where that is known.
	Reached  []Reached `json:"reached"`
	Missing  []Missing `json:"missing"` // what is missing next, the first thing first
	Finished bool      `json:"finished"`
	Out      bool      `json:"out"`                // the early drop has gone out, or is laid out
	Findings *Findings `json:"findings,omitempty"` // nil: not examined
	Reports  int       `json:"reports,omitempty"`  // open ones
	Hours    float64   `json:"print_hours"`        // still to print for trials and builds
	// FinishBy is the last moment at which it can be finished so that it and all that follow keep their days, at
	// the usual pace; StartBy is that less the usual number of days. Zero when it is finished.
	FinishBy time.Time `json:"finish_by,omitzero"`
	StartBy  time.Time `json:"start_by,omitzero"`
	Chance   *float64  `json:"chance,omitempty"` // that its early day is met; nil when it is past or out
}

// Reached is a state with the moment at which it was reached.
type Reached struct {
	State schedule.Standing `json:"state"`
	At    time.Time         `json:"at,omitzero"`    // zero: the day is not known
	From  string            `json:"from,omitempty"` // "git", "trials", "ledger"
}

// Missing is one thing that is missing, with the command that brings it forward.
type Missing struct {
	What    string `json:"what"`
	Command string `json:"command,omitempty"`
}

// Findings are counts of what check has to say.
type Findings struct {
	Errors     int `json:"errors"`
	Warnings   int `json:"warnings"`
	Notes      int `json:"notes"`
	NotChecked int `json:"not_checked"`
}

// Reserve says how long the promise holds.
type Reserve struct {
	Weeks    int   `json:"weeks_in_reserve"` // coming weeks in a row that are finished
	Finished []int `json:"finished"`         // coming weeks whose designs are finished, in a row or not
	Free     []int `json:"free"`             // coming weeks without a design
	// Breaks is the early day of the first coming week that is not finished: the day on which the promise breaks
	// if work stops today. Zero when all is finished.
	Breaks     time.Time `json:"breaks,omitzero"`
	BreaksWeek int       `json:"breaks_week,omitempty"`
	Late       []int     `json:"late"`      // weeks whose early day has passed and which are not out
	ThisWeek   []int     `json:"this_week"` // weeks that must be finished within seven days
}

// Odds is what the simulation says.
type Odds struct {
	Runs   int    `json:"runs"`
	Seed   uint64 `json:"seed"`
	Basis  string `json:"basis"`   // "history" or "prior"
	Says   string `json:"says"`    // what the days rest on, in words
	Taken  []Took `json:"history"` // finished designs with how long each took
	Finest int    `json:"finest_percent"`
	// Usual is the median of the days that a design takes.
	Usual float64 `json:"usual_days"`
	// All is the chance that every coming week is met, StandardError that of the simulation alone.
	All           *float64 `json:"all,omitempty"` // nil when nothing is left to do
	StandardError float64  `json:"standard_error"`
	// ReserveFor90 is the number of coming weeks in due order that would have to be finished today for a chance
	// of 90 % that all are met; MoreFor90 of these are not finished yet. Out of reach: nil.
	ReserveFor90 *int `json:"reserve_for_90,omitempty"`
	MoreFor90    *int `json:"more_for_90,omitempty"`
}

// Took is how long one finished design took.
type Took struct {
	Design string    `json:"design"`
	From   time.Time `json:"from"`
	To     time.Time `json:"to"`
	Days   float64   `json:"days"` // without leave, and without the time another one was being finished
}

// Printer is one printer with what it has to do, by week of the season.
type Printer struct {
	Name         string     `json:"name"`
	HoursPerWeek float64    `json:"hours_per_week"`
	Load         []WeekLoad `json:"load"`
}

// WeekLoad is what falls due on a printer between the previous coming week's finishing day and this one's.
type WeekLoad struct {
	Week  int       `json:"week"`
	Need  float64   `json:"need_hours"` // of prints for this week's design
	Have  float64   `json:"have_hours"` // that the printer can run in that time
	Over  float64   `json:"over_hours"` // that end after the finishing day; 0 when all end in time
	Until time.Time `json:"until"`
}

// Queue is the proposed order of prints.
type Queue struct {
	Jobs []QueuedJob `json:"jobs"`
	// Verdict is "kept": this order keeps every day; "impossible": no order does; "unknown": none was found.
	Verdict string   `json:"verdict"`
	Why     string   `json:"why,omitempty"`
	Over    []int    `json:"overflows"` // weeks whose prints do not end in time
	Unknown []string `json:"unknown"`   // prints whose hours are not known
}

// QueuedJob is one or more prints of one part, one after another.
type QueuedJob struct {
	Printer  string    `json:"printer"` // "" when none takes it
	Week     int       `json:"week"`
	Design   string    `json:"design"`
	Part     string    `json:"part"`
	Variant  string    `json:"variant,omitempty"` // "" where all variants print the same
	Prints   int       `json:"prints"`
	Copies   int       `json:"copies"` // of the part in each print
	For      string    `json:"for"`    // "trial" or "build"
	Hours    float64   `json:"hours"`  // of all its prints
	Grams    float64   `json:"grams"`
	Filament string    `json:"filament,omitempty"`
	Starts   time.Time `json:"starts"` // if the printer runs its hours a week evenly
	Ends     time.Time `json:"ends"`
	Due      time.Time `json:"due"`
	Late     bool      `json:"late,omitempty"`
}

// Shelf is what is in stock against what the coming weeks need.
type Shelf struct {
	Kept      bool    `json:"kept"` // there is a stock.csv
	Needs     []Need  `json:"needs"`
	Orders    []Order `json:"orders"`
	Cost      float64 `json:"cost"`      // of the orders that have a price
	Unpriced  int     `json:"unpriced"`  // orders without one
	NoSpool   []Tight `json:"no_spool"`  // prints that no single spool holds
	Uncounted bool    `json:"uncounted"` // some coming design could not be counted; Notes say which
}

// Need is one thing that coming weeks need.
type Need struct {
	Kind    string     `json:"kind"` // "filament", "fastener", "bought"
	Item    string     `json:"item"`
	Unit    string     `json:"unit"` // "g", "pcs", "m"
	Need    float64    `json:"need"`
	Have    float64    `json:"have"`
	Short   float64    `json:"short"`
	By      time.Time  `json:"by,omitzero"` // when what is there runs out; zero: never
	ByWeek  int        `json:"by_week,omitempty"`
	PerWeek []WeekNeed `json:"per_week"`
}

// WeekNeed is what one week's design needs of a thing.
type WeekNeed struct {
	Week   int     `json:"week"`
	Design string  `json:"design"`
	Trials float64 `json:"trials"`
	Builds float64 `json:"builds"`
}

// Order is what to order.
type Order struct {
	Kind  string    `json:"kind"`
	Item  string    `json:"item"`
	Short float64   `json:"short"`
	Unit  string    `json:"unit"`
	Packs int       `json:"packs"`           // spools, packs, or pieces where no pack is known
	Of    float64   `json:"pack_of"`         // grams on a spool, pieces in a pack
	Word  string    `json:"word"`            // "spool", "pack", "piece"
	Price *float64  `json:"price,omitempty"` // of one spool or pack
	Cost  *float64  `json:"cost,omitempty"`
	By    time.Time `json:"by"`
	Week  int       `json:"week"` // the week that runs short first
}

// Tight is a print that no single spool on the shelf holds.
type Tight struct {
	Week     int     `json:"week"`
	Design   string  `json:"design"`
	Part     string  `json:"part"`
	Filament string  `json:"filament"`
	Grams    float64 `json:"grams"`         // expected
	Most     float64 `json:"most_grams"`    // at the upper end of the estimate
	Fullest  float64 `json:"fullest_grams"` // on the fullest spool
}

// Idea is one line of ideas.csv.
type Idea struct {
	Name  string `json:"name"`
	Title string `json:"title"`
	Week  int    `json:"week,omitempty"` // the week it is meant for
	Asked int    `json:"asked"`          // how often it was asked for
	Note  string `json:"note,omitempty"`
	Begun bool   `json:"begun,omitempty"` // there is a folder
}

// Report is one open report of a fault.
type Report struct {
	Design   string    `json:"design"`
	ID       string    `json:"id"`
	Part     string    `json:"part,omitempty"`
	Revision string    `json:"revision,omitempty"`
	Text     string    `json:"text"`
	At       time.Time `json:"at,omitzero"`
}
