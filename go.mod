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
	github.com/aws/aws-sdk-go-v2 v1.46.0 // the S3 client's settings: clock, retries, path style
	github.com/aws/aws-sdk-go-v2/config v1.33.3 // credentials from the environment or the store's own files, never from ours
	github.com/aws/aws-sdk-go-v2/feature/s3/transfermanager v0.4.3 // the upload that the blob interface hands out to be made conditional
	github.com/aws/aws-sdk-go-v2/service/s3 v1.111.0 // what the blob interface has no word for: multipart left-overs, expiring links
	github.com/aws/smithy-go v1.28.1 // reads the store's error codes
	github.com/fsnotify/fsnotify v1.10.1 // tells the preview that a file changed
	github.com/johannesboyne/gofakes3 v1.2.0 // an S3 store in memory (tests only)
	github.com/xuri/excelize/v2 v2.11.0 // writes the bill of materials as a workbook
	gocloud.dev v0.47.0 // any S3-compatible store behind one interface
	rsc.io/qr v0.2.0 // the square code of the design's page in the sheet's footer
)

require (
	dario.cat/mergo v1.0.0 // indirect
	github.com/Microsoft/go-winio v0.6.2 // indirect
	github.com/ProtonMail/go-crypto v1.1.6 // indirect
	github.com/aws/aws-sdk-go-v2/aws/protocol/eventstream v1.7.20 // indirect
	github.com/aws/aws-sdk-go-v2/credentials v1.20.3 // indirect
	github.com/aws/aws-sdk-go-v2/feature/ec2/imds v1.19.2 // indirect
	github.com/aws/aws-sdk-go-v2/internal/configsources v1.5.2 // indirect
	github.com/aws/aws-sdk-go-v2/internal/endpoints/v2 v2.8.2 // indirect
	github.com/aws/aws-sdk-go-v2/internal/v4a v1.5.2 // indirect
	github.com/aws/aws-sdk-go-v2/service/internal/accept-encoding v1.13.19 // indirect
	github.com/aws/aws-sdk-go-v2/service/internal/checksum v1.11.2 // indirect
	github.com/aws/aws-sdk-go-v2/service/internal/presigned-url v1.14.2 // indirect
	github.com/aws/aws-sdk-go-v2/service/internal/s3shared v1.20.2 // indirect
	github.com/aws/aws-sdk-go-v2/service/signin v1.9.0 // indirect
	github.com/aws/aws-sdk-go-v2/service/sso v1.37.0 // indirect
	github.com/aws/aws-sdk-go-v2/service/ssooidc v1.42.0 // indirect
	github.com/aws/aws-sdk-go-v2/service/sts v1.49.0 // indirect
	github.com/bahlo/generic-list-go v0.2.0 // indirect
	github.com/buger/jsonparser v1.1.2 // indirect
	github.com/cespare/xxhash/v2 v2.3.0 // indirect
	github.com/cloudflare/circl v1.6.3 // indirect
	github.com/cyphar/filepath-securejoin v0.6.1 // indirect
	github.com/emirpasic/gods v1.18.1 // indirect
	github.com/go-git/gcfg v1.5.1-0.20230307220236-3a3c6141e376 // indirect
	github.com/go-git/go-billy/v5 v5.9.2 // indirect
	github.com/go-logr/logr v1.4.4 // indirect
	github.com/go-logr/stdr v1.2.2 // indirect
	github.com/golang/groupcache v0.0.0-20241129210726-2c02b8208cf8 // indirect
	github.com/google/uuid v1.6.0 // indirect
	github.com/google/wire v0.7.0 // indirect
	github.com/googleapis/gax-go/v2 v2.24.1 // indirect
	github.com/inconshreveable/mousetrap v1.1.0 // indirect
	github.com/jbenet/go-context v0.0.0-20150711004518-d14ea06fba99 // indirect
	github.com/kevinburke/ssh_config v1.2.0 // indirect
	github.com/pb33f/ordered-map/v2 v2.3.1 // indirect
	github.com/pjbgf/sha1cd v0.7.0 // indirect
	github.com/richardlehane/mscfb v1.0.7 // indirect
	github.com/richardlehane/msoleps v1.0.6 // indirect
	github.com/ryszard/goskiplist v0.0.0-20150312221310-2dfbae5fcf46 // indirect
	github.com/sergi/go-diff v1.3.2-0.20230802210424-5b0b94c5c0d3 // indirect
	github.com/skeema/knownhosts v1.3.1 // indirect
	github.com/spf13/pflag v1.0.9 // indirect
	github.com/tiendc/go-deepcopy v1.7.2 // indirect
	github.com/xanzy/ssh-agent v0.3.3 // indirect
	github.com/xuri/efp v0.0.1 // indirect
	github.com/xuri/nfp v0.0.2-0.20250530014748-2ddeb826f9a9 // indirect
	go.opentelemetry.io/auto/sdk v1.2.1 // indirect
	go.opentelemetry.io/otel v1.46.0 // indirect
	go.opentelemetry.io/otel/metric v1.46.0 // indirect
	go.opentelemetry.io/otel/sdk v1.46.0 // indirect
	go.opentelemetry.io/otel/sdk/metric v1.46.0 // indirect
	go.opentelemetry.io/otel/trace v1.46.0 // indirect
	go.shabbyrobe.org/gocovmerge v0.0.0-20230507111327-fa4f82cfbf4d // indirect
	go.yaml.in/yaml/v4 v4.0.0-rc.2 // indirect
	golang.org/x/sys v0.50.0 // indirect
	golang.org/x/tools v0.52.0 // indirect
	golang.org/x/xerrors v0.0.0-20240903120638-7835f813f4da // indirect
	google.golang.org/api v0.297.0 // indirect
	google.golang.org/genproto/googleapis/rpc v0.0.0-20260904194346-d0f1323225a4 // indirect
	google.golang.org/grpc v1.83.2 // indirect
	google.golang.org/protobuf v1.36.12 // indirect
	gopkg.in/warnings.v0 v0.1.2 // indirect
)
