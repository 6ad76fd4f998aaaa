-- The ratio of scatters from which wider matters, as the trial was judged; derived, written anew each night.

alter table "trial_arm" add column "left_right_worthwhile" DOUBLE;
