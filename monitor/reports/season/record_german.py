"""Der Winterbericht auf Deutsch: the words of a season record in German, to an owner as ``Sie``."""

from monitor.phrases.owner_catalogue import Counted
from monitor.reports.season.figures import NightVerdict, NotProved
from monitor.reports.season.record_catalogue import RecordWords
from monitor.yard.reading import Channel
from monitor.yard.standing import Hazard, Standing

GERMAN_RECORD = RecordWords(
    language="de",
    day="{day}.{number}.{year}",
    date_of_work="{day}.{number}.{year}",
    work_at="{day}, {hour}",
    work_on="{day}, Uhrzeit nicht genannt",
    month_axis="{month} {year}",
    day_axis="{day}.{number}.",
    decimal=",",
    not_known="nicht bekannt",
    not_read="nicht gemessen",
    not_on_record="nicht eingetragen",
    under_a_tenth="unter 0,1 h",
    hours_of="{hours} von {whole}",
    to="{since} bis {until}",
    stretches_more=" und {count} weitere Zeiträume",
    left_out="{count} weitere Zeilen stehen im beigefügten JSON.",
    title="Winterbericht für {name}, {season}",
    attachment_words="Die Zahlen dieses Berichts für Programme: JSON, SI-Einheiten, UTC",
    foot="Eine Hilfe zur Beurteilung, kein Sicherheitsgerät.",
    craft="Boot",
    craft_type="Typ",
    hull_number="Rumpfnummer",
    owner="Eigner",
    care="Im Winterlager",
    made="Erstellt",
    times="Zeiten",
    care_still="{since} bis {until}, und dann noch hier",
    made_by="{at}, mit laidup {program}",
    times_by="Ortszeit ({zone}); im beigefügten JSON UTC",
    part_short="Kurz gefasst",
    part_nights="Nacht für Nacht",
    part_air="Wo das Boot stand, und die Luft dort",
    part_work="Eingetragene Arbeiten",
    part_told="Alarme, Antworten und Nachrichten",
    part_standing="Feuchte und Batterie",
    part_watch="Die Überwachung selbst",
    part_open="Was dieser Bericht nicht beweist",
    part_check="Wie Sie den Bericht prüfen",
    for_yard="Für das Winterlager",
    for_owner="Eigner, bei Übernahme des Boots",
    for_witness="Zeuge",
    signing="Bei der Übergabe",
    signing_words=(
        "Wer unterschreibt, bestätigt, dass das Boot übergeben und dieser Bericht ausgehändigt "
        "wurde, nicht aber, dass jede Zahl darin stimmt. Zustand des Boots, wie beide ihn "
        "gesehen haben:"
    ),
    unreadable=(
        "Von den eingetragenen Arbeiten zählt keine, und jeder Kreis gilt als mit Wasser "
        "gefüllt. Grund: „{why}“."
    ),
    no_night="Noch ist keine Nacht vergangen.",
    nights=Counted(
        "1 Nacht",
        "{count} Nächte",
    ),
    nights_said="{nights}: {verdicts}.",
    worst=" Die schlimmste: {day}.",
    unjudged=Counted(
        (
            "In 1 Nacht wurde das Boot nicht auf Frostgefahr beurteilt: In dieser Zeit konnte "
            "kein Frostalarm kommen."
        ),
        (
            "In {count} Nächten wurde das Boot nicht auf Frostgefahr beurteilt: In dieser Zeit "
            "konnte kein Frostalarm kommen."
        ),
    ),
    lowest="Kälteste Luft am Boot: {low} in {space}, in der Stunde ab {at}.",
    heard_part=(
        "Gemessen wurde {share} der {hours}, die das Boot hier stand; über {unheard} ist nichts "
        "bekannt."
    ),
    heard_all=(
        "Gemessen wurde bis auf Augenblicke die ganze Zeit, die das Boot hier stand: {hours}."
    ),
    own_alarms=Counted(
        "1 Alarm zum Boot selbst, {answers}.",
        "{count} Alarme zum Boot selbst, {answers}.",
    ),
    never_answered="{count} nie beantwortet",
    each_answered="alles beantwortet",
    no_own_alarm="Kein Alarm zum Boot selbst.",
    nights_drawn=(
        "Tiefste Lufttemperatur und tiefste Temperatur im Kreis für jede Nacht vom {first} bis "
        "{last}, dazu die Grenze, bis zu der das Boot geschützt war. {nights}"
    ),
    nights_caption=(
        "Tiefste Lufttemperatur jeder Nacht (Quadrat: unter der Grenze oder Eis berechnet; "
        "Ring: nahe an der Grenze; Punkt: alle übrigen) und tiefste Temperatur in dem Kreis mit "
        "der kleinsten Reserve (Strich). Die dicke Linie zeigt, ab wann sich darin Eis bildet. "
        "Grau: Nächte, über die nichts bekannt ist."
    ),
    all_held=(
        "Nach Messung und Rechnung war das Boot in jeder Nacht ausreichend geschützt; von jeder "
        "Nacht wurden mindestens vier Fünftel gemessen."
    ),
    without_reading=Counted(
        "1 Nacht ganz ohne Messwert: {stretches}. Wie kalt es war, weiß niemand.",
        "{count} Nächte ganz ohne Messwert: {stretches}. Wie kalt es war, weiß niemand.",
    ),
    near_title="Nächte nahe an der Grenze, unter der Grenze oder ohne genügend Messwerte{where}",
    all_in=", alle in {space}",
    night_from="Nacht ab",
    space="Platz",
    expected="Erwartet (vier von fünf)",
    came="Luft",
    inside="Kreis mit kleinster Reserve",
    ice_begins="Eis ab",
    so="Ergebnis",
    not_said="nicht vorhergesagt",
    expected_between="{expected} ({cold} bis {warm})",
    probe="{low} (Fühler)",
    inside_of="{low}: {name}",
    nothing_freezes="nichts kann gefrieren",
    limit_by="{limit}, {state}",
    heard_share=", gemessen {share}",
    stood_title="Wo das Boot stand",
    since="Von",
    until="Bis",
    space_berth="Platz und Stellplatz",
    entered_by="Eingetragen von",
    berth="{space}, Stellplatz {berth}",
    air_title="Die Luft, solange das Boot dort stand, in den gemessenen Stunden",
    heard="Gemessen",
    low="Tiefste",
    high="Höchste",
    below="Unter {limit}",
    wet="Nass",
    air_drawn=(
        "Stunden in {space} nach Lufttemperatur: die Hälfte unter {middle}, neun von zehn "
        "zwischen {cold} und {warm}; {unheard} nicht gemessen."
    ),
    air_caption="{space}: Stunden je Temperatur und nicht gemessene Stunden (schraffiert).",
    not_heard="nicht gemessen",
    no_work=(
        "Für diesen Winter ist keine Arbeit eingetragen. Ein Kreis, den kein Eintrag als "
        "geschützt ausweist, gilt als mit Wasser gefüllt."
    ),
    work_title="Was getan wurde, von wem, und was dabei festgestellt wurde",
    when_whom="Wann, von wem",
    what="Was",
    evidence="Nachweis, im Wortlaut des Eintrags",
    declined_title="Vom Winterlager angeboten, vom Eigner abgelehnt",
    when_told="Wann, mitgeteilt von",
    note_not_said="nicht angegeben",
    no_declined="Keine Arbeit ist als vom Eigner abgelehnt eingetragen.",
    done_by="{person}, {at}",
    nothing_noted="nichts vermerkt",
    photos=Counted(
        "1 Foto, mit Prüfsumme im JSON",
        "{count} Fotos, mit Prüfsumme im JSON",
    ),
    written_down="eingetragen am {at}",
    withdrawn="Zurückgezogen: {what}",
    taken_back="zurückgezogen von {person}",
    taken_back_at="zurückgezogen von {person}, {at}",
    corrected="berichtigt, erst und jetzt: {changes}",
    the_same="unverändert",
    no_alarm="Weder zum Boot noch zu seinem Platz gab es einen Alarm.",
    alarms_title="Alarme zum Boot und zu seinem Platz, solange es dort stand",
    raised="Ausgelöst",
    answered="Beantwortet",
    waited="Wartezeit",
    over="Vorbei",
    nobody_answered="niemand hat geantwortet",
    answered_by="{person}, {at}",
    the_first="{answered} (der erste)",
    raised_again=Counted(
        "{at}, und 1 weiteres Mal",
        "{at}, und {count} weitere Male",
    ),
    not_over="kein Ende festgestellt",
    no_message="Keine Nachricht an den Eigner ist aufgezeichnet.",
    messages=Counted(
        (
            "1 Nachricht an den Eigner: {taken} vom Server des Empfängers angenommen, {refused} "
            "abgelehnt, {waiting} noch nicht zugestellt."
        ),
        (
            "{count} Nachrichten an den Eigner: {taken} vom Server des Empfängers angenommen, "
            "{refused} abgelehnt, {waiting} noch nicht zugestellt."
        ),
    ),
    page_unopened=" Dass die Seite für den Eigner geöffnet wurde, wurde nie festgestellt.",
    page_opened=" Die Seite für den Eigner wurde zuletzt am {at} geöffnet.",
    warnings_title="Warnungen an den Eigner",
    written="Geschrieben",
    subject="Betreff",
    way="Weg",
    delivered="Zugestellt",
    other_craft="betraf auch andere Boote",
    staff_told=Counted(
        (
            "Die Mitarbeiter des Winterlagers wurden über diese Alarme 1 Mal benachrichtigt, "
            "jeder Alarm in jeder Nachricht gezählt: {taken} vom Server des Empfängers "
            "angenommen, {refused} abgelehnt, {given_up} aufgegeben, {waiting} noch nicht "
            "zugestellt. Ob eine Nachricht gelesen wurde, sieht niemand."
        ),
        (
            "Die Mitarbeiter des Winterlagers wurden über diese Alarme {count} Mal "
            "benachrichtigt, jeder Alarm in jeder Nachricht gezählt: {taken} vom Server des "
            "Empfängers angenommen, {refused} abgelehnt, {given_up} aufgegeben, {waiting} noch "
            "nicht zugestellt. Ob eine Nachricht gelesen wurde, sieht niemand."
        ),
    ),
    untaken=Counted(
        "Bei 1 Alarm wurde keine Nachricht an die Mitarbeiter angenommen.",
        "Bei {count} Alarmen wurde keine Nachricht an die Mitarbeiter angenommen.",
    ),
    may_lack=Counted(
        (
            "Zu 1 Alarm können hier Nachrichten fehlen: Eine frühere Version von laidup hat "
            "nicht festgehalten, welche Alarme eine Nachricht nannte."
        ),
        (
            "Zu {count} Alarmen können hier Nachrichten fehlen: Eine frühere Version von laidup "
            "hat nicht festgehalten, welche Alarme eine Nachricht nannte."
        ),
    ),
    staff_title="Wer im Winterlager benachrichtigt wurde; zuerst, was nicht ankam",
    alarm="Alarm",
    whom="An",
    taken="Angenommen",
    first_answer="Erste Antwort",
    later="{span} später",
    tries=Counted(
        "{fate}, 1 Versuch",
        "{fate}, {count} Versuche",
    ),
    metal="Blankes Metall, wie beurteilt: {said}.",
    metal_unjudged="Blankes Metall wurde nicht auf Feuchte beurteilt.",
    battery="Batterie, wie beurteilt: {said}.",
    battery_unjudged="Die Batterie wurde nicht beurteilt.",
    rest_title="Ruhespannung der Batterie, wie abgelesen",
    when="Wann",
    volts="Spannung",
    by="Von",
    gaps_title=(
        "Zusammenhängende Stunden, von denen weniger als die Hälfte gemessen wurde; die längste "
        "Lücke zuerst"
    ),
    hours="Stunden",
    no_gap="Keine Stunde blieb ungemessen.",
    sensors_title="Messfühler, auf die sich dieser Bericht stützt",
    sensor="Messfühler",
    where="Wo",
    compared="Mit einem Normal verglichen",
    no_sensor="Wo das Boot stand, hing kein Messfühler.",
    doubts_title="Messfühler, die zweifelhaft waren oder nichts meldeten",
    the_end="zum Ende",
    how="Zustand",
    no_doubt="Dass ein Messfühler zweifelhaft war oder nichts meldete, ist nicht aufgezeichnet.",
    gaps_stay=" Die oben genannten Stunden blieben trotzdem ungemessen.",
    height="{space}, in {height} m Höhe",
    never_compared="nie, soweit eingetragen",
    check_inside=(
        "In dieser Datei liegt season-record.json. Darin steht jede Zahl dieser Seiten und "
        "alles, was hier weggelassen ist: jede Nacht, jede Lücke und jede Fassung der Arbeiten. "
        "Ihr PDF-Programm speichert sie aus der Liste der Anhänge."
    ),
    sealed=(
        "Das Winterlager hat die Datei versiegelt. Ob seither etwas darin geändert wurde, zeigt "
        "der Befehl laidup verify, auf jedem Rechner und ohne Netz. Er vertraut einem Schlüssel, "
        "den Sie auf anderem Weg vom Winterlager haben, oder der Buchzeile in einer Mail des "
        "Winterlagers, die Sie aufbewahrt haben. Der Schlüssel, mit dem versiegelt wurde, hat "
        "den Fingerabdruck {fingerprint}."
    ),
    not_sealed=(
        "Die Datei ist nicht versiegelt: Wer die Datei hat, kann sie ändern, ohne dass es auffällt."
    ),
    unsigned=(
        "Das PDF selbst trägt keine Signatur: Diese Seiten lassen sich ändern, ohne dass es "
        "auffällt. Maßgebend ist die beigefügte Datei."
    ),
    signed=(
        "Das PDF trägt eine Signatur (PAdES). Ihr PDF-Programm zeigt daher, ob diese Seiten "
        "noch so sind, wie sie gesetzt wurden."
    ),
    self_issued=(
        "Es meldet auch, dass der Unterzeichner oder der Aussteller unbekannt ist: Das "
        "Winterlager hat sein Zertifikat selbst ausgestellt, und keine Stelle bestätigt, wem es "
        "gehört. season-record.json nennt dieses Zertifikat (sein SHA-256 beginnt mit "
        "{digits}). Wer dem Schlüssel des Winterlagers vertraut, kann also der Signatur "
        "vertrauen; laidup verify prüft beides."
    ),
    issued_by=(
        "Sie wurde mit einem Zertifikat erstellt, das {issuer} für {subject} ausgestellt hat "
        "(sein SHA-256 beginnt mit {digits}; season-record.json nennt es ebenfalls)."
    ),
    last_hash="; die Prüfsumme des letzten beginnt mit {begins}",
    chain=Counted(
        (
            "Das Einwinterungsbuch des Boots hat 1 Eintrag{last}. Jede Mail des Winterlagers "
            "nennt den damaligen Stand des Buchs: Wer eine aufbewahrt hat, kann sie mit diesem "
            "Bericht vergleichen."
        ),
        (
            "Das Einwinterungsbuch des Boots hat {count} Einträge{last}. Jede Mail des "
            "Winterlagers nennt den damaligen Stand des Buchs: Wer eine aufbewahrt hat, kann "
            "sie mit diesem Bericht vergleichen."
        ),
    ),
    months=(
        "Jan.",
        "Feb.",
        "März",
        "April",
        "Mai",
        "Juni",
        "Juli",
        "Aug.",
        "Sept.",
        "Okt.",
        "Nov.",
        "Dez.",
    ),
    verdicts={
        NightVerdict.ICE: "mit berechnetem Eis",
        NightVerdict.PASSED: "unter der Grenze",
        NightVerdict.NOT_KNOWN: "nicht bekannt",
        NightVerdict.NEAR: "nahe an der Grenze",
        NightVerdict.HELD: "überstanden",
    },
    not_proved={
        NotProved.NOT_IN_WATER: (
            "Die Temperatur in einem Kreis ist aus der Luft am Boot berechnet, wenn kein Fühler "
            "genannt ist. Berechnetes Eis ist kein Eis, das jemand gesehen hat."
        ),
        NotProved.SENSOR_PLACE: (
            "Es wird angenommen, dass die Messfühler dort hingen, wo sie heute in der Datei des "
            "Winterlagers stehen, und dass die Luft dort der Luft am Boot gleicht."
        ),
        NotProved.BETWEEN_SENSORS: "In einer Ecke ohne Messfühler kann es kälter gewesen sein.",
        NotProved.WORK_AS_TOLD: (
            "Die Arbeiten stehen hier, wie sie eingetragen wurden. Die Kette der Einträge zeigt "
            "spätere Änderungen, aber nicht, ob ein Eintrag stimmte, als er geschrieben wurde."
        ),
        NotProved.NOT_HEARD: (
            "Über nicht gemessene Stunden ist nichts bekannt. Sie zählen weder als mild noch "
            "als trocken."
        ),
        NotProved.READ_OR_NOT: (
            "Dass ein Server eine Nachricht angenommen hat, zeigt nicht, dass jemand sie "
            "gelesen hat."
        ),
        NotProved.STAFF_MESSAGES: (
            "Zu einigen Alarmen wurde nicht festgehalten, welche Nachrichten an die Mitarbeiter "
            "sie nannten. Dass hier keine steht, zeigt weder, dass sie benachrichtigt wurden, "
            "noch, dass sie es nicht wurden."
        ),
        NotProved.NO_DAMAGE_SHOWN: (
            "Nichts hier zeigt, dass das Boot unbeschädigt ist oder wann ein Schaden entstand. "
            "Frostschäden zeigen sich erst beim Auftauen."
        ),
        NotProved.SKY: (
            "Unter klarem Himmel werden Flächen im Freien einige Grad kälter als die Luft. Die "
            "Tiefstwerte der Nächte sind Lufttemperaturen; die laufende Beurteilung "
            "berücksichtigt den Himmel."
        ),
        NotProved.BEFORE_THE_WATCH: (
            "Das Boot stand schon im Winterlager, bevor die Luft dort zum ersten Mal gemessen "
            "wurde."
        ),
    },
    standings={
        (Hazard.DAMP, Standing.DRY): "trocken",
        (Hazard.DAMP, Standing.WETTING): "wird feucht",
        (Hazard.DAMP, Standing.SWEATING): "betaut",
        (Hazard.DAMP, Standing.FROSTING): "bereift",
        (Hazard.DAMP, Standing.DEW_AHEAD): "Betauung zu erwarten",
        (Hazard.DAMP, Standing.DAMP): "einen Tag lang feucht",
        (Hazard.DAMP, Standing.NOT_KNOWN): "nicht bekannt",
        (Hazard.BATTERY, Standing.CHARGED): "geladen",
        (Hazard.BATTERY, Standing.LOW): "schwach geladen",
        (Hazard.BATTERY, Standing.FREEZING): "kann gefrieren",
        (Hazard.BATTERY, Standing.SUSPECT): "war vielleicht gefroren",
        (Hazard.BATTERY, Standing.LOST): "Erhaltungsladegerät ausgefallen",
        (Hazard.BATTERY, Standing.NOT_KNOWN): "nicht bekannt",
    },
    doubts={
        Standing.APART: "weicht von den anderen ab",
        Standing.DOUBTED: "zweifelhaft",
        Standing.LATE: "verspätet",
        Standing.LOST: "Verbindung verloren",
        Standing.LOW: "eigene Batterie schwach",
        Standing.NOT_KNOWN: "nicht bekannt",
        Standing.SILENT: "meldet nichts",
        Standing.STEADY: "in Ordnung",
    },
    causes={
        "frost": "Frostgefahr",
        "ice": "Eis",
        "third-ice": "Ein Drittel des Frostschutzes ist gefroren",
        "moved-out": "Aus der Wärme geholt",
        "voided": "Einwinterung aufgehoben",
        "unreadable": "Einwinterungsbuch nicht lesbar",
        "file-refused": "Bootsdatei nicht übernommen",
        "snow-load": "Schnee oder Eis auf der Abdeckung",
        "cover-torn": "Abdeckung gerissen",
        "power-lost": "Strom oder Gateway ausgefallen",
        "heat-loss": "Wärme geht verloren",
        "heat-off": "Heizung aus, kein Frost zu erwarten",
        "battery-freezing": "Batterie kann gefrieren",
        "overcharge": "Erhaltungsladegerät überlädt",
        "maintainer-lost": "Erhaltungsladegerät ausgefallen",
        "battery-low": "Batterie schwach geladen",
        "sweat": "Metall unter dem Taupunkt",
        "damp": "Einen Tag lang feucht",
        "silence-urgent": "Keine Messwerte, obwohl es darauf ankommt",
        "silence": "Keine Messwerte",
        "blind-space": "Kein einziger Messwert aus einem Platz",
        "sensor-doubted": "Messfühler zweifelhaft",
        "sensors-apart": "Messfühler weichen voneinander ab",
        "sensor-battery-low": "Batterie des Messfühlers schwach",
        "forecast-old": "Wettervorhersage veraltet",
        "own-clock": "Uhr von laidup geht falsch",
        "broker-drops": "Broker verwirft Nachrichten",
        "foreign-sender": "Fremder sendet unter dem Namen eines Messfühlers",
        "disk-filling": "Festplatte fast voll",
        "disk-full": "Festplatte voll",
        "store-damaged": "Datenbank beschädigt",
        "record-rewritten": "Einwinterungsbuch gekürzt oder umgeschrieben",
        "path-failed": "Nachrichten kommen nicht an",
    },
    fates={
        "taken": "angenommen",
        "refused": "abgelehnt",
        "given up": "aufgegeben",
        "waiting": "noch nicht zugestellt",
        "put off": "aufgeschoben",
    },
    roles={
        "operator": "Leitung",
        "mechanic": "Mechaniker",
    },
    measured={
        Channel.TEMPERATURE: "Temperatur",
        Channel.HUMIDITY: "Luftfeuchte",
        Channel.VOLTAGE: "Spannung",
        Channel.CURRENT: "Strom",
        Channel.CHARGE: "Ladezustand",
        Channel.MAINS: "Netzspannung",
        Channel.SENSOR_BATTERY: "Batterie des Messfühlers",
    },
)
