"""Which layers are hidden, locked and faded, remembered from one start of the desk to the next."""

from PySide6.QtCore import QObject, QSettings

from studio.desk.session import Session
from studio.desk.state import HOLDING, LAYERS, State

_HIDDEN, _LOCKED, _FADED = "layers/hidden", "layers/locked", "layers/faded"


class LayerMemory(QObject):
    """Puts the remembered layers into the session, and remembers what changes."""

    def __init__(self, session: Session, settings: QSettings, parent: QObject) -> None:
        super().__init__(parent)
        self._settings = settings
        if settings.contains(_HIDDEN):
            session.update(
                layers=frozenset(LAYERS) - self._read(_HIDDEN, LAYERS), locked=self._read(_LOCKED, HOLDING),
                faded=self._read(_FADED, HOLDING),
            )  # fmt: skip
        session.changed.connect(self._remember)

    def _read(self, key: str, known: tuple[str, ...]) -> frozenset[str]:
        kept = self._settings.value(key, "")
        return frozenset(str(kept).split(",")) & frozenset(known)

    def _remember(self, old: State, new: State) -> None:
        if (new.layers, new.locked, new.faded) == (old.layers, old.locked, old.faded):
            return
        hidden = frozenset(LAYERS) - new.layers
        for key, layers in ((_HIDDEN, hidden), (_LOCKED, new.locked), (_FADED, new.faded)):
            self._settings.setValue(key, ",".join(sorted(layers)))
