package physics

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// weights are standard atomic weights, g/mol: Atomic Weights of the Elements 1999 (compiled by T. B. Coplen for
// IUPAC, with the changes of 2001), as shipped in the Debian package python3-periodictable 1.6.0, where they were
// read; the IUPAC report itself was not opened. Later IUPAC tables differ by less than 5 parts in 10,000 (from
// memory; zinc is the widest apart): too little to matter for a gem's density.
var weights = map[string]float64{
	"H": 1.00794, "Li": 6.941, "Be": 9.012182, "B": 10.811, "C": 12.0107, "N": 14.0067, "O": 15.9994, "F": 18.9984032,
	"Na": 22.989770, "Mg": 24.3050, "Al": 26.981538, "Si": 28.0855, "P": 30.973761, "S": 32.065, "Cl": 35.453,
	"K": 39.0983, "Ca": 40.078, "Sc": 44.955910, "Ti": 47.867, "V": 50.9415, "Cr": 51.9961, "Mn": 54.938049,
	"Fe": 55.845, "Co": 58.933200, "Ni": 58.6934, "Cu": 63.546, "Zn": 65.409, "Ga": 69.723, "Ge": 72.64, "As": 74.92160,
	"Rb": 85.4678, "Sr": 87.62, "Y": 88.90585, "Zr": 91.224, "Nb": 92.90638, "Mo": 95.94, "Ag": 107.8682, "Sn": 118.710,
	"Sb": 121.760, "Te": 127.60, "Cs": 132.90545, "Ba": 137.327, "La": 138.9055, "Ce": 140.116, "Nd": 144.24,
	"Gd": 157.25, "Lu": 174.967, "Hf": 178.49, "Ta": 180.9479, "W": 183.84, "Au": 196.96655, "Hg": 200.59, "Pb": 207.2,
	"Bi": 208.98038, "U": 238.02891,
}

const deepest = 8 // brackets within brackets: more than any mineral's formula has

// water is crystal water joined with a plain point, as many tables print it.
var water = regexp.MustCompile(`\.([0-9]*H2O)$`)

var subscripts = strings.NewReplacer("₀", "0", "₁", "1", "₂", "2", "₃", "3", "₄", "4", "₅", "5", "₆", "6", "₇", "7",
	"₈", "8", "₉", "9", "[", "(", "]", ")", "•", "·")

// MolarMass is the molar mass of a chemical formula in g/mol: Al2SiO4F2, Mg2Al4Si5O18, Zr0.85Y0.15O1.925 or
// Na(Li1.5Al1.5)Al6(Si6O18)(BO3)3(OH)4. Amounts may be fractions, subscripts may be typed as such, brackets round or
// square. Water is joined with a raised point, CuAl6(PO4)4(OH)8·4H2O; a plain point will do before water at the very
// end. A choice, as in Al2SiO4(F,OH)2, has no one mass: write the amounts out. ErrFormula says where a formula can't
// be read.
func MolarMass(formula string) (float64, error) {
	text := subscripts.Replace(formula)
	if !strings.Contains(text, "·") {
		text = water.ReplaceAllString(text, "·$1")
	}
	p := &massParser{text: text}
	total := 0.0
	for {
		mass, err := p.part()
		if err != nil {
			return 0, fmt.Errorf("%w: %q: %w", ErrFormula, formula, err)
		}
		total += mass
		if p.rest() == "" {
			return total, nil
		}
		if !p.skip("·") {
			return 0, fmt.Errorf("%w: %q: %w", ErrFormula, formula, p.unexpected())
		}
	}
}

// massParser reads a formula from left to right: parts joined by raised points, each an amount and groups, each an
// element or a bracketed group with an amount behind it.
type massParser struct {
	text string
	at   int
}

func (p *massParser) rest() string { return p.text[p.at:] }

func (p *massParser) skip(token string) bool {
	if !strings.HasPrefix(p.rest(), token) {
		return false
	}
	p.at += len(token)
	return true
}

func (p *massParser) part() (float64, error) {
	n, err := p.amount()
	if err != nil {
		return 0, err
	}
	mass, err := p.groups(0)
	return n * mass, err
}

func (p *massParser) groups(depth int) (float64, error) {
	sum := 0.0
	for {
		r, _ := utf8.DecodeRuneInString(p.rest())
		if r != '(' && !(r < unicode.MaxASCII && unicode.IsUpper(r)) {
			break
		}
		mass, err := p.group(depth)
		if err != nil {
			return 0, err
		}
		n, err := p.amount()
		if err != nil {
			return 0, err
		}
		sum += n * mass
	}
	if sum == 0 {
		return 0, p.unexpected()
	}
	return sum, nil
}

func (p *massParser) group(depth int) (float64, error) {
	if !p.skip("(") {
		return p.element()
	}
	if depth == deepest {
		return 0, fmt.Errorf("brackets nested more than %d deep", deepest)
	}
	mass, err := p.groups(depth + 1)
	if err == nil && !p.skip(")") {
		err = p.unexpected()
	}
	return mass, err
}

func (p *massParser) element() (float64, error) {
	n := 1
	if rest := p.rest(); len(rest) > 1 && rest[1] >= 'a' && rest[1] <= 'z' {
		n = 2
	}
	symbol := p.rest()[:n]
	mass, ok := weights[symbol]
	if !ok {
		return 0, fmt.Errorf("no element %q in the table of atomic weights", symbol)
	}
	p.at += n
	return mass, nil
}

// amount is the number at this place, 1 if there is none.
func (p *massParser) amount() (float64, error) {
	rest := p.rest()
	end := len(rest) - len(strings.TrimLeft(rest, "0123456789."))
	if end == 0 {
		return 1, nil
	}
	n, err := strconv.ParseFloat(rest[:end], 64)
	if err != nil || n <= 0 || n > 1e6 {
		return 0, fmt.Errorf("%q is no amount", rest[:end])
	}
	p.at += end
	return n, nil
}

func (p *massParser) unexpected() error {
	r, _ := utf8.DecodeRuneInString(p.rest())
	switch {
	case p.rest() == "":
		return fmt.Errorf("it ends where an element or a bracket was expected")
	case r == ',':
		return fmt.Errorf("a choice with a comma has no one mass, write the amounts out")
	}
	return fmt.Errorf("%q after %q was not expected", r, p.text[:p.at])
}
