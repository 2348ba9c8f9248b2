package dig

var spanish = phrases{
	method: "análisis de varianza de un factor con efectos aleatorios: componentes por cuadrados medios, profundidades de los surcos encogidas hacia su promedio (mejor predicción lineal insesgada), incertidumbre con el término de Prasad-Rao por estimarse las componentes; un surco cuyas semillas se dispersan más que las de los demás (prueba F, 5 %) se juzga por su propia dispersión, con la t de Student",

	even: "parejo: %s", off: "por corregir: %s", unsure: "dudoso: %s; %s",
	deeper:    "siembra %s más hondo que el promedio de los surcos, con un margen de %s",
	shallower: "siembra %s menos hondo que el promedio de los surcos, con un margen de %s",
	alike:     "siembra al promedio de los surcos, con un margen de %s",
	noise:     ", lo que puede ser casualidad",
	settles:   "%d semillas más lo deciden, si sigue así", settleOne: "1 semilla más lo decide, si sigue así",
	never: "ni %d semillas más lo decidirían, si sigue así",

	bounces:   "sus semillas se dispersan %s, %s veces lo que las de los demás: revise la carga, el cierre y el paso de la semilla hasta el surco, no la manija",
	bounceOff: "sus semillas se dispersan %s, %s veces lo que las de los demás: revise la carga, el cierre y el paso de la semilla hasta el surco antes de girar la manija",
	bounceOdd: "sus semillas se dispersan %s, %s veces lo que las de los demás, lo que puede ser casualidad: el surco se juzga por su propia dispersión",

	noDifference: "Estas semillas no muestran que los surcos difieran: surcos del todo iguales diferirían tanto con una probabilidad de %s.",
	negative:     "Los surcos difieren menos que las semillas de un mismo surco; la varianza entre surcos salió negativa y cuenta como 0.",
	oneSeed:      "%s: una sola semilla, así que su dispersión se toma de los demás surcos.",
	fewRows:      "Con %d surcos se sabe poco de cuánto difieren los surcos: desentierre en más surcos antes de mover muchos.",
	place:        "El nivel de un surco solo se ve donde velocidad, suelo y carga fueron iguales: desentierre todos los surcos en un mismo lugar.",

	tooLong: "tiene %d bytes, debe tener %d como máximo", onLine: "línea %d: %s", onlySeparators: "tiene solo separadores",
	notRow: "%q no es un número de surco", notDepth: "%q no es una profundidad", noDepth: "tiene un surco y ninguna profundidad",
	unclearComma:    "la coma en %q puede ser decimal o separar dos profundidades; escriba los decimales con punto, como 50.5, y un espacio o un punto y coma entre profundidades",
	unclearFraction: "%q se puede leer de dos maneras; escriba las pulgadas enteras, un espacio y una fracción menor que uno, como 1 7/8 o 2 1/8",
	noSeeds:         "no tiene semillas; cada línea es un número de surco y luego profundidades",
}
