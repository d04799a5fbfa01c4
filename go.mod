module dropwright

go 1.26.0

require (
	codeberg.org/go-fonts/dejavu v0.4.0 // the sheet's PDF embeds it: a free font that has the diameter and tick signs
	codeberg.org/go-pdf/fpdf v0.12.0 // writes the sheet as PDF without a browser; the maintained line of the package
	github.com/disintegration/imaging v1.6.2 // turns and scales photos; behind our own guards
	github.com/github/go-spdx/v2 v2.8.0 // the SPDX licence list as code, no network
	github.com/go-git/go-git/v5 v5.19.3 // reads revisions and writes tags without the git program
	github.com/goccy/go-yaml v1.19.2 // YAML with positions of every token
	github.com/gofrs/flock v0.13.2 // the one lock of a series, freed when its holder dies
	github.com/hiddeco/sshsig v0.2.0 // SSH signatures that ssh-keygen verifies
	github.com/invopop/jsonschema v0.14.0 // the document type of JSON Schema, ordered
	github.com/rogpeppe/go-internal v1.16.0 // testscript: command tests as text (tests only)
	github.com/santhosh-tekuri/jsonschema/v6 v6.0.3 // an independent judge of our JSON (tests only)
	github.com/spf13/cobra v1.10.2 // commands, help, completion for four shells
	github.com/yuin/goldmark v1.8.7 // CommonMark to a tree
	golang.org/x/crypto v0.59.0 // SSH keys
	golang.org/x/image v0.47.0 // reads fonts' tables: which signs a font has
	golang.org/x/net v0.62.0 // an HTML parser that judges our pages (tests only)
	golang.org/x/term v0.48.0 // whether a stream is a terminal, and its width
	golang.org/x/text v0.44.0 // Unicode normal forms and case folding for file names
	pgregory.net/rapid v1.3.0 // property tests (tests only)
)

require (
	dario.cat/mergo v1.0.0 // indirect
	github.com/Microsoft/go-winio v0.6.2 // indirect
	github.com/ProtonMail/go-crypto v1.1.6 // indirect
	github.com/bahlo/generic-list-go v0.2.0 // indirect
	github.com/buger/jsonparser v1.1.2 // indirect
	github.com/cloudflare/circl v1.6.3 // indirect
	github.com/cyphar/filepath-securejoin v0.6.1 // indirect
	github.com/emirpasic/gods v1.18.1 // indirect
	github.com/go-git/gcfg v1.5.1-0.20230307220236-3a3c6141e376 // indirect
	github.com/go-git/go-billy/v5 v5.9.2 // indirect
	github.com/golang/groupcache v0.0.0-20241129210726-2c02b8208cf8 // indirect
	github.com/inconshreveable/mousetrap v1.1.0 // indirect
	github.com/jbenet/go-context v0.0.0-20150711004518-d14ea06fba99 // indirect
	github.com/kevinburke/ssh_config v1.2.0 // indirect
	github.com/pb33f/ordered-map/v2 v2.3.1 // indirect
	github.com/pjbgf/sha1cd v0.7.0 // indirect
	github.com/sergi/go-diff v1.3.2-0.20230802210424-5b0b94c5c0d3 // indirect
	github.com/skeema/knownhosts v1.3.1 // indirect
	github.com/spf13/pflag v1.0.9 // indirect
	github.com/xanzy/ssh-agent v0.3.3 // indirect
	go.yaml.in/yaml/v4 v4.0.0-rc.2 // indirect
	golang.org/x/sys v0.50.0 // indirect
	golang.org/x/tools v0.52.0 // indirect
	gopkg.in/warnings.v0 v0.1.2 // indirect
)
