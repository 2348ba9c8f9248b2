package wear

var spanish = phrases{
	method: "mínimos cuadrados generalizados sobre la cadena de profundidades de cada surco, quitado lo que las lecturas de una visita tienen en común, con un componente surco por visita según los residuos de todos los surcos; respecto del promedio del tercio central de los surcos",

	notEnough: "historia insuficiente: %d de al menos 3 visitas comparables desde la última pieza cambiada",
	asOthers:  "se va igual que los demás",
	deeper:    "se va más hondo que los demás surcos %s cada 100 %s (%s a %s)",
	shallower: "se va menos hondo que los demás surcos %s cada 100 %s (%s a %s)",
	unlike:    "; eso difiere del resto: revise si hay piezas gastadas o equivocadas",
	usedUp:    "; su recorrido está agotado",
	between:   "; su recorrido alcanza para %s a %s %s más",
	atLeast:   "; su recorrido alcanza para %s %s más por lo menos",
	noEnd:     "; no se ve fin de su recorrido",

	about:        "%s: %s.",
	wornUnlike:   "desgaste distinto del resto; revise antes de la temporada y pida piezas a tiempo",
	fewRows:      "Muy pocos surcos tienen historia, o comparten muy pocas visitas, para distinguir el desgaste de un surco de lo que todos tienen en común.",
	fewVisits:    "Visitas firmadas con área conocida: %d. El desgaste se dice desde 3.",
	edge:         "%s, los de borde: %s.",
	edgeAlike:    "se van igual que los demás",
	edgeDeeper:   "se van más hondo que los demás %s cada 100 %s (%s por casualidad si fueran iguales)",
	edgeShallow:  "se van menos hondo que los demás %s cada 100 %s (%s por casualidad si fueran iguales)",
	common:       "Todos los surcos juntos se van más hondo %s cada 100 %s (%s a %s), según el calibre que los leyó; el recorrido que queda lo cuenta.",
	commonUp:     "Todos los surcos juntos se van menos hondo %s cada 100 %s (%s a %s), según el calibre que los leyó; el recorrido que queda lo cuenta.",
	commonNone:   "El calibre que los leyó no muestra que todos los surcos juntos se vayan; puede ser hasta %s cada 100 %s, y el recorrido que queda lo cuenta.",
	noCommon:     "No se dice cuánto alcanza el recorrido: no se ve lo que todos los surcos se gastan por igual. Mida la sembradora con un mismo calibre, sin cambiarle el cero, en tres visitas firmadas de distinta área sembrada.",
	foundDeeper:  "hallado %s más hondo que como quedó la última vez, respecto del surco mediano de la sembradora (%s a %s)",
	foundShallow: "hallado %s menos hondo que como quedó la última vez, respecto del surco mediano de la sembradora (%s a %s)",
	foundAlike:   "hallado como quedó la última vez, respecto del surco mediano de la sembradora",
	scatter:      "Las lecturas se apartan de sus rectas %s veces lo que su incertidumbre dice: piezas cambiadas sin anotar, o desgaste a saltos.",
}
