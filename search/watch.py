"""Which trials of a study came about without the sampler: added by hand, or by another process."""

from __future__ import annotations

from optuna.study import Study
from optuna.trial import FrozenTrial, TrialState


class Watch:
    """The numbers of one study that were never seen to start; `place` orders the studies of a sampler."""

    def __init__(self, *, place: int) -> None:
        self.place = place
        self._next_number = 0
        self._unseen: set[int] = set()

    def started(self, study: Study, number: int) -> list[FrozenTrial]:
        """Note that trial `number` starts; return what the study holds complete when it is first seen."""
        first = self._next_number == 0 and number > 0 and not self._unseen
        self._unseen.update(range(self._next_number, number))
        self._unseen.discard(number)
        self._next_number = max(self._next_number, number + 1)
        return self._complete_of_all(study) if first else []

    def finished_elsewhere(self, study: Study) -> list[FrozenTrial]:
        """Return unseen trials that are complete by now, each once; costs nothing where there are none."""
        found = []
        for number in sorted(self._unseen):
            storage = study._storage
            trial = storage.get_trial(
                storage.get_trial_id_from_study_id_trial_number(study._study_id, number)
            )
            if trial.state.is_finished():
                self._unseen.discard(number)
                found += [trial] if trial.state == TrialState.COMPLETE else []
        return found

    def _complete_of_all(self, study: Study) -> list[FrozenTrial]:
        """Return all complete trials; reading the whole study once is cheaper than one by one."""
        trials = study.get_trials(deepcopy=False)
        self._unseen -= {trial.number for trial in trials if trial.state.is_finished()}
        return [trial for trial in trials if trial.state == TrialState.COMPLETE]
